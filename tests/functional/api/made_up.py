"""Requests made up from the schema, sent as somebody into a school that has one of everything."""

import functools
import json
import random
import warnings
from collections.abc import Iterator
from datetime import UTC, date, datetime
from typing import Any
from urllib.parse import urlencode

import schemathesis
from django.core.cache import cache
from hypothesis import strategies as st
from schemathesis import Case
from schemathesis.core import NotSet

from tests import profiles
from tests.functional.api.client import Api, Reply, schema, undone
from tests.functional.api.world import World
from tests.services import on_postgres

REQUESTS = {"ci": 2_000, "long": 10_000}
"""Requests a role, over all operations together: QUALITY.md, F14. A quick run only looks in."""
LEAST = 4  # of each operation
FIRST, LAST = date(2000, 1, 1), date(2199, 12, 31)  # the calendar of the API
_INSTANTS = st.datetimes(
    datetime(2000, 1, 2), datetime(2199, 12, 30), timezones=st.just(UTC), allow_imaginary=False
)
schemathesis.openapi.format("date", st.dates(FIRST, LAST).map(date.isoformat))
schemathesis.openapi.format("date-time", _INSTANTS.map(datetime.isoformat))


@functools.cache
def operations() -> tuple[Any, ...]:
    """Every operation of the schema."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = schemathesis.openapi.from_dict(schema()).get_all_operations()
        return tuple(one.ok() for one in found)


def examples() -> int:
    """How many requests each operation is sent.

    PostgreSQL is sent a quarter of them, for what is made up is the same.
    """
    each = -(-REQUESTS.get(profiles.NAME, 0) // len(operations()))
    return max(LEAST, each // 4 if on_postgres() else each)


def ids(world: World) -> list[int]:
    """Ids that are there, so that made-up requests reach beyond "not found"."""
    rows = (
        world.booking,
        world.meeting,
        world.offer,
        world.extra,
        world.away,
        world.draft,
        world.feed,
        world.school.noor,
    )
    return [row.pk for row in rows]


def fire(case: Case, api: Api, there: list[int]) -> Reply:
    """Sends it: mostly to an id that is there, with a version that fits.

    Drawn from the case itself, so that it replays.
    """
    chance = random.Random(repr((case.body, case.query, case.path_parameters, case.headers)))
    path = case.formatted_path
    if "{id}" in case.path and chance.random() < 0.7:
        path = case.path.replace("{id}", str(chance.choice(there)))
    query = urlencode(dict(case.query or {}), doseq=True)
    headers = {
        name: str(value) for name, value in (case.headers or {}).items() if name != "Content-Type"
    }
    if chance.random() < 0.7:
        headers = {"If-Match": "*"}
    return api.ask(
        case.method, f"{path}?{query}" if query else path, headers=headers, raw=_sent(case.body)
    )


def sent_as_each(
    case: Case, people: dict[str, Api], there: list[int]
) -> Iterator[tuple[str, Reply]]:
    """(role, answer) of everybody, who each find the same world; a fault names the role.

    Making a request up takes three times as long as answering it.
    """
    for role, api in people.items():
        cache.clear()  # throttles are tested elsewhere
        with undone():
            try:
                reply = fire(case, api, there)
            except Exception as fault:
                fault.add_note(f"The request was sent as {role}.")
                raise
        yield role, reply


def _sent(body: Any) -> bytes:
    if isinstance(body, NotSet):
        return b""
    return body if isinstance(body, bytes) else json.dumps(body, default=repr).encode()


def pointers(reply: Reply) -> Iterator[str]:
    """Where the errors of a refusal point; nowhere for one that names no field."""
    for error in reply.json.get("errors", ()):
        yield error["pointer"]
