"""Requests made up from the schema, right and wrong: none is a fault of the server, and each answer
is what the schema says.
"""

import pytest
from django.core.cache import cache
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis import Case
from schemathesis.generation import GenerationMode

from tests.functional.api.client import Api, undone
from tests.functional.api.made_up import examples, fire, ids, operations
from tests.functional.api.school import School
from tests.functional.api.world import make_world


@pytest.mark.heavy
@pytest.mark.parametrize("role", ["nobody", "owner", "guardian", "teacher", "admin"])
def test_made_up_requests_are_answered_as_the_schema_says(school: School, role: str) -> None:
    """Every operation, as every role, with valid and broken values, is answered as described.

    No 5xx, and no status or body that the schema does not name.
    """
    world = make_world(school)
    api, there, fired = Api(world.people()[role]), ids(world), 0
    for operation in operations():
        cases = st.one_of(*(operation.as_strategy(generation_mode=mode) for mode in GenerationMode))

        @settings(max_examples=examples(), database=None, suppress_health_check=list(HealthCheck))
        @given(case=cases)
        def run(case: Case) -> None:
            nonlocal fired
            cache.clear()  # throttles are tested elsewhere
            with undone():
                fire(case, api, there)
            fired += 1

        run()
    assert fired >= examples() * len(operations()) // 2
