"""Plans of groups: nobody is placed with an instructor who does not teach their level."""

import pytest

from bookings.models import Teaches
from tests import cast
from tests.integration.nothing_written import refused
from tests.school.plans import ASKED_AT, PlanningSchool

pytestmark = pytest.mark.django_db


@pytest.fixture
def school(monkeypatch: pytest.MonkeyPatch) -> PlanningSchool:
    """Ilse teaches the class at levels 3 to 10. The clock of the solver stands at ASKED_AT."""
    monkeypatch.setattr("bookings.clock.now", lambda: ASKED_AT)
    school = PlanningSchool()
    Teaches.objects.update(lowest_level=3)
    for student in (school.oona, school.noor, school.asha):
        student.level = 4
        student.save(update_fields=["level"])
    return school


def test_a_student_whose_level_nobody_teaches_is_refused_by_name(school: PlanningSchool) -> None:
    """The level of players is kept for a plan as for a booking."""
    posy = cast.make_student("Posy Larkspur", "Europe/Dublin", level=1)
    found = refused("invalid", lambda: school.ask(members=[school.oona, posy]))
    assert found.data["field"] == "students"
    assert "Posy, level 1" in found.detail
    assert "Oona" not in found.detail


def test_each_student_is_placed_with_an_instructor_of_their_level(school: PlanningSchool) -> None:
    """Wren teaches the beginners, and Ilse never meets one."""
    wren = cast.make_instructor("Wren Halloway", "Europe/Dublin")
    cast.publish(wren, "2 06:00-24:00")
    cast.teaches(wren, school.offering, highest=2)
    posy = cast.make_student("Posy Larkspur", "Europe/Dublin", level=1)
    answer = school.solved(
        members=[school.oona, posy], instructors=[school.ilse.pk, wren.pk]
    ).answer
    (meeting,) = answer["meetings"]
    taught_by = {school.ilse.pk: school.oona.pk, wren.pk: posy.pk}
    assert list(meeting["burdens"]) == [str(taught_by[meeting["instructor"]])]
    assert len(answer["unplaced"]) == 1
