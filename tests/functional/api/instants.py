"""The instants in an answer."""

import re
from collections.abc import Iterator
from typing import Any

LOCAL = {"local_start", "instructor_local_start", "student_local_start"}
INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d")


def instants(told: Any, name: str = "") -> Iterator[tuple[str, str]]:
    """Every text in an answer that is an instant, with the name of its member."""
    if isinstance(told, dict):
        for member, value in told.items():
            yield from instants(value, member)
    elif isinstance(told, list):
        for value in told:
            yield from instants(value, name)
    elif isinstance(told, str) and INSTANT.match(told):
        yield name, told
