"""Requests made up from the schema, right and wrong: none is a fault of the server, and each answer is what the schema says."""

import json
import random
import warnings
from typing import Any
from urllib.parse import urlencode

import pytest
import schemathesis
from django.core.cache import cache
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis import Case
from schemathesis.core import NotSet
from schemathesis.generation import GenerationMode

from tests.functional.api.client import Api, schema, undone
from tests.functional.api.matrix import World, make_world
from tests.functional.api.school import School
from tests.services import on_postgres

# For each of more than 54 operations. QUALITY.md, F14: 40 are 2,160 requests a role in CI, on SQLite; PostgreSQL is sent a
# quarter of them, for what is made up is the same. The quick profile only looks in.
WHOLE = 4 if settings().max_examples < 100 else settings().max_examples * 2 // 5
EXAMPLES = max(4, WHOLE // 4) if on_postgres() else WHOLE


def _operations() -> list[Any]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return [
            found.ok() for found in schemathesis.openapi.from_dict(schema()).get_all_operations()
        ]


def _ids(world: World) -> list[int]:
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


def _fire(case: Case, api: Api, ids: list[int]) -> None:
    # Drawn from the case itself, so that it replays: mostly an id that is there and a version that fits.
    chance = random.Random(repr((case.body, case.query, case.path_parameters, case.headers)))
    path = case.formatted_path
    if "{id}" in case.path and chance.random() < 0.7:
        path = case.path.replace("{id}", str(chance.choice(ids)))
    query = urlencode(dict(case.query or {}), doseq=True)
    headers = {
        name: str(value) for name, value in (case.headers or {}).items() if name != "Content-Type"
    }
    if chance.random() < 0.7:
        headers = {"If-Match": "*"}
    api.ask(
        case.method, f"{path}?{query}" if query else path, headers=headers, raw=_sent(case.body)
    )


def _sent(body: Any) -> bytes:
    if isinstance(body, NotSet):
        return b""
    return body if isinstance(body, bytes) else json.dumps(body, default=repr).encode()


@pytest.mark.parametrize("role", ["nobody", "owner", "guardian", "teacher", "admin"])
def test_made_up_requests_are_answered_as_the_schema_says(school: School, role: str) -> None:
    """Every operation, as every role, with valid and broken values: no 5xx, no status or body that the schema does not name."""
    world = make_world(school)
    api, ids, fired = Api(world.people()[role]), _ids(world), 0
    for operation in _operations():
        cases = st.one_of(*(operation.as_strategy(generation_mode=mode) for mode in GenerationMode))

        @settings(max_examples=EXAMPLES, database=None, suppress_health_check=list(HealthCheck))
        @given(case=cases)
        def run(case: Case) -> None:
            nonlocal fired
            cache.clear()  # throttles are tested elsewhere
            with undone():
                _fire(case, api, ids)
            fired += 1

        run()
    assert fired >= EXAMPLES * len(_operations()) // 2
