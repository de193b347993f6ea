"""Requests made up from the schema, right and wrong: none is a fault of the server, and each answer
is what the schema says.
"""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis import Case
from schemathesis.generation import GenerationMode

from tests.functional.api.client import Api
from tests.functional.api.made_up import examples, ids, operations, sent_as_each
from tests.functional.api.school import School
from tests.functional.api.world import make_world

ROLES = ("nobody", "owner", "guardian", "teacher", "admin")


@pytest.mark.heavy
def test_made_up_requests_are_answered_as_the_schema_says(school: School) -> None:
    """Every operation, as every role, with valid and broken values, is answered as described.

    No 5xx, and no status or body that the schema does not name.
    """
    world = make_world(school)
    people = {role: Api(world.people()[role]) for role in ROLES}
    there, fired = ids(world), 0
    for operation in operations():
        cases = st.one_of(*(operation.as_strategy(generation_mode=mode) for mode in GenerationMode))

        @settings(max_examples=examples(), database=None, suppress_health_check=list(HealthCheck))
        @given(case=cases)
        def run(case: Case) -> None:
            nonlocal fired
            fired += len(list(sent_as_each(case, people, there)))

        run()
    assert fired >= len(ROLES) * (examples() * len(operations()) // 2)
