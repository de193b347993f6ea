"""A refusal of the API as a problem document."""

from typing import Any

from bookings.domain.errors import CODES
from tests.functional.api.client import Reply


def refused(reply: Reply, code: str) -> dict[str, Any]:
    """The problem, whose members are those of RFC 9457 and ours."""
    assert (reply.status, reply.code) == (CODES[code][0], code), reply.body
    assert reply.headers["Content-Type"] == "application/problem+json"
    problem = reply.json
    assert (problem["status"], problem["title"]) == CODES[code]
    assert problem["type"] == f"/api/problems/{code}/"
    assert problem["detail"].endswith((".", "?")) or code == "invalid"
    return problem
