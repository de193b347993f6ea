"""Places that an admin fixes, what would place those who have none, and bad input."""

from dataclasses import replace
from math import inf

import pytest

from bookings.domain.errors import Refused
from bookings.domain.planning.model import Progress
from bookings.domain.planning.timetable import (
    Change,
    Lack,
    Need,
    Place,
    TermInstructor,
    TermStudent,
    TimetableProblem,
    Unplaced,
    Wish,
)
from bookings.domain.planning.timetable_plan import plan_timetable

AT_15, AT_16, AT_17 = (Place(1, hour * 60) for hour in (15, 16, 17))
ILSE = TermInstructor(1, (15 * 60, 16 * 60, 17 * 60), changeover=5)


def student(number: int, *places: Place, burden: int = 0, **other) -> TermStudent:
    """A student of 45 minutes to whom each of these places costs the same."""
    return TermStudent(number, 45, tuple(Wish(place, burden) for place in places), **other)


def problem(*students: TermStudent, instructor: TermInstructor = ILSE) -> TimetableProblem:
    return TimetableProblem(tuple(students), (instructor,))


def places(asked: TimetableProblem) -> dict[int, Place]:
    return {placed.student: placed.place for placed in plan_timetable(asked).placed}


def test_a_fixed_place_stays_and_the_others_are_solved_around_it() -> None:
    """The second student would be moved out of the first's only other hour."""
    first, second = student(1, AT_15, AT_16), student(2, AT_15, AT_16, previous=AT_15)
    assert places(problem(first, second)) == {1: AT_16, 2: AT_15}
    fixed = replace(first, fixed=AT_15)
    assert places(problem(fixed, second)) == {1: AT_15, 2: AT_16}


def test_fixed_places_that_collide_are_refused() -> None:
    """Two students are fixed to one hour."""
    both = (student(1, AT_15, fixed=AT_15), student(2, AT_15, fixed=AT_15))
    with pytest.raises(Refused) as refused:
        plan_timetable(problem(*both))
    assert refused.value.data["field"] == "fixed"


def test_a_timetable_that_found_nothing_in_time_is_not_proven() -> None:
    """Two students are fixed to one hour, and no time is left to find out."""
    both = (student(1, AT_15, fixed=AT_15), student(2, AT_15, fixed=AT_15))
    plan = plan_timetable(problem(*both), seconds=0)
    assert plan.is_stopped and not plan.is_proven and plan.gap == inf


def test_a_timetable_without_a_choice_is_proven() -> None:
    """Nobody has an hour, so there is no better answer."""
    plan = plan_timetable(problem(student(1)))
    assert plan.is_proven and plan.gap == 0 and not plan.is_stopped


def test_a_dear_hour_needs_consent() -> None:
    """A burden of 8 is no place without the family's consent, unless an admin fixed it."""
    dear = student(1, AT_15, burden=8)
    plan = plan_timetable(problem(dear))
    assert plan.placed == ()
    assert plan.unplaced == (Unplaced(1, Lack.CONSENT, Change((Need.CONSENT,), AT_15, 8)),)
    assert places(problem(replace(dear, has_consent=True))) == {1: AT_15}
    assert places(problem(replace(dear, fixed=AT_15))) == {1: AT_15}


def test_siblings_follow_each_other() -> None:
    """The second has all hours and gets the one after the first's, though an earlier one is free
    and nothing else differs.
    """
    pair = (student(1, AT_16, family=7), student(2, AT_15, AT_17, family=7))
    assert plan_timetable(problem(*pair)).values["siblings"] == 1


def test_lessons_in_a_row_stay_within_the_run() -> None:
    """Three lessons of 45 minutes with 15 between, where a pause is 20 and a run 90 minutes."""
    people = (student(1, AT_15), student(2, AT_16), student(3, AT_17))
    strict = replace(ILSE, run_minutes=90, run_gap=20)
    plan = plan_timetable(problem(*people, instructor=strict))
    assert plan.values["placed"] == 2 and plan.is_proven
    assert plan.unplaced[0].change is not None
    assert plan.unplaced[0].change.needs == (Need.LOAD,)
    assert plan_timetable(problem(*people, instructor=ILSE)).values["placed"] == 3


def test_a_lesson_keeps_its_time_taken_in_whole_cells() -> None:
    """32 minutes without changeover are held for 35, as every booking is: 15:35 is the next."""
    at_35 = Place(1, 15 * 60 + 35)
    short = TermStudent(1, 32, (Wish(AT_15, 0),))
    no_pause = TermInstructor(1, (AT_15.minute, AT_15.minute + 30, at_35.minute))
    later = TermStudent(2, 30, (Wish(Place(1, AT_15.minute + 30), 0), Wish(at_35, 3)))
    assert places(problem(short, later, instructor=no_pause)) == {1: AT_15, 2: at_35}


def test_a_student_without_hours_is_told_so() -> None:
    """*Never* everywhere leaves no place to change to."""
    plan = plan_timetable(problem(student(1), student(2, AT_15)))
    assert plan.unplaced == (Unplaced(1, Lack.NO_HOURS, None),)
    assert plan_timetable(problem(student(1))).placed == ()


def test_the_cheapest_change_may_ask_another_family() -> None:
    """The one in the way could go to an hour that is dear for them."""
    mover = TermStudent(1, 45, (Wish(AT_15, 0), Wish(AT_16, 8)), previous=AT_15)
    plan = plan_timetable(problem(mover, student(2, AT_15)))
    change = Change((Need.OTHER_CONSENT,), AT_15, 0, ((1, AT_16),))
    assert plan.unplaced == (Unplaced(2, Lack.TAKEN, change),)


def test_the_last_resort_names_who_would_have_to_leave() -> None:
    """Both have one and the same hour; the one who had it keeps it."""
    plan = plan_timetable(problem(student(1, AT_15, previous=AT_15), student(2, AT_15)))
    change = Change((Need.OTHER_LEAVES,), AT_15, 0, ((1, None),))
    assert plan.unplaced == (Unplaced(2, Lack.TAKEN, change),)


def test_a_timetable_stopped_at_once_is_a_first_answer() -> None:
    """The previous table is kept where it can be."""

    def watch(progress: Progress) -> bool:
        return False

    people = (student(1, AT_15, AT_16), student(2, AT_15, previous=AT_15), student(3, AT_15))
    plan = plan_timetable(problem(*people), watch=watch)
    assert plan.is_stopped and plan.placed[1].place == AT_15


@pytest.mark.parametrize(
    ("field", "asked"),
    [
        ("students", lambda: problem()),
        ("students", lambda: problem(student(1, AT_15), student(1, AT_15))),
        ("minutes", lambda: TimetableProblem((TermStudent(1, 0, ()),), (ILSE,))),
        ("places", lambda: problem(student(1, AT_15, AT_15))),
        ("places", lambda: problem(student(1, Place(1, 5)))),
        ("starts", lambda: problem(student(1), instructor=TermInstructor(1, (7,)))),
        ("fixed", lambda: problem(student(1, AT_15, fixed=AT_16))),
    ],
)
def test_what_cannot_be_a_timetable_is_refused_by_field(field: str, asked) -> None:
    """Nobody, somebody twice, no length, a place twice or unknown, an impossible fixed place."""
    with pytest.raises(Refused) as refused:
        asked()
    assert refused.value.code == "invalid" and refused.value.data["field"] == field
