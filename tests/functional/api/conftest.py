"""Every test of the API has a school, a clock that stands still and throttles that have seen
nobody.
"""

import copy
from collections.abc import Callable, Iterator

import pytest
import pytest_django
import time_machine
from django.core.cache import cache
from django.db import transaction

from tests.cast import NOW
from tests.functional.api.school import School, make_school
from tests.functional.api.world import World, make_world


@pytest.fixture(autouse=True)
def clock_stands_still() -> Iterator[time_machine.Traveller]:
    """Monday 1 March 2027, 09:00 UTC; a test may move it."""
    cache.clear()
    with time_machine.travel(NOW, tick=False) as clock:
        yield clock


@pytest.fixture
def school(db: None) -> School:
    return make_school()


@pytest.fixture(scope="module")
def makes_world() -> Callable[[School], World]:
    """How the world of a module is made; a module may have its own way."""
    return make_world


@pytest.fixture(scope="module")
def standing_world(
    makes_world: Callable[[School], World],
    django_db_setup: None,
    django_db_blocker: pytest_django.DjangoDbBlocker,
) -> Iterator[World]:
    """A world that stands for all tests of a module: making one takes longer than most of them.

    Each test rolls back to it. A module that asks for it must not also make a school, nor commit.
    """
    whole = transaction.atomic()
    with django_db_blocker.unblock(), time_machine.travel(NOW, tick=False):
        whole.__enter__()
        world = makes_world(make_school())
    yield world
    with django_db_blocker.unblock():
        transaction.set_rollback(True)
        whole.__exit__(None, None, None)


@pytest.fixture
def world(standing_world: World, db: None) -> World:
    """The standing world, as if it were made for this test."""
    return copy.deepcopy(standing_world)
