"""Noor asks for another start, and an answer."""

from datetime import timedelta
from typing import Any

from bookings.domain.timeline import rfc3339
from tests.functional.api.client import Api
from tests.functional.api.school import FRIDAY, School

WANTED = FRIDAY + timedelta(hours=2)

LATER = FRIDAY + timedelta(hours=2, minutes=30)

BEYOND_HOURS = FRIDAY + timedelta(hours=8)


def ask(school: School, starts_at: Any = WANTED, **how: Any) -> dict[str, Any]:
    """Noor books Friday and asks for another start."""
    booking = school.booked()
    reply = Api(school.noor.user).post(
        f"bookings/{booking['id']}/move-requests/", {"starts_at": rfc3339(starts_at)}, **how
    )
    assert reply.status == 201, reply.body
    return reply.json


def answer(school: School, asked: dict[str, Any], say: str, data: Any = None, **how: Any) -> Any:
    ilse, path = Api(school.ilse.user), f"move-requests/{asked['id']}/"
    return ilse.post(f"{path}{say}/", data, match=how.pop("match", None) or ilse.etag(path), **how)
