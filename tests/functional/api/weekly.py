"""A term, and a weekly place in it that may be asked for."""

import pytest
import time_machine

from bookings.domain.vocabulary import Kind
from tests import cast
from tests.functional.api.school import School
from tests.school.weekly import NOW, make_term

TUESDAY = {"weekday": "TU", "wall_time": "16:30"}


@pytest.fixture(autouse=True)
def a_week_before_the_term(clock_stands_still: time_machine.Traveller) -> None:
    """Monday 4 January 2027."""
    clock_stands_still.move_to(NOW)


@pytest.fixture
def place(school: School) -> dict[str, int]:
    """What names a lesson of 45 minutes with Ilse in the spring term."""
    lesson = cast.make_offering("Harp lesson", Kind.PRIVATE_LESSON, 45)
    cast.teaches(school.ilse, lesson)
    return {"term": make_term(school.dag).pk, "offering": lesson.pk, "instructor": school.ilse.pk}


def asked(place: dict[str, int], **more: object) -> str:
    return "weekly-places/options/?" + "&".join(
        f"{name}={value}" for name, value in {**place, **more}.items()
    )
