"""Who next: which students get a time, which go together, and what is said of the others."""

from dataclasses import replace

import pytest

from bookings.domain.errors import Refused
from bookings.domain.planning.who_next import (
    MOST_DAYS,
    DueStudent,
    FreeStart,
    Unreached,
    WhoNext,
    WhoNextProblem,
)
from bookings.domain.planning.who_next_plan import plan_who_next
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period
from tests.unit.plain_who_next import Chosen, at, minute

NOON = 12 * 60


def student(student_id: int, *starts: tuple[int, int], unseen: int | None = 50) -> DueStudent:
    """25 minutes and 5 of changeover, at any of these (minute of Monday, burden)."""
    return DueStudent(student_id, unseen, 25, 5, tuple(FreeStart(at(m), b) for m, b in starts))


def problem(*students: DueStudent, **more: object) -> WhoNextProblem:
    plain = WhoNextProblem(students, (), "Europe/Dublin", Policy())
    return replace(plain, **more)  # type: ignore[arg-type]


def planned(asked: WhoNextProblem) -> WhoNext:
    found = plan_who_next(asked)
    assert found.is_proven
    return found


def firsts(found: WhoNext) -> Chosen:
    return {one.student_id: one.start for one in found.proposals}


def times(found: WhoNext) -> dict[int, int]:
    return {student_id: minute(start.starts_at) for student_id, start in firsts(found).items()}


def test_most_students_are_reached() -> None:
    """1 can come at noon alone, so 2 comes at one, although noon costs 2 nothing."""
    found = planned(problem(student(1, (NOON, 3)), student(2, (NOON, 0), (NOON + 60, 8))))
    assert times(found) == {1: NOON, 2: NOON + 60}


def test_of_as_many_the_longest_unseen_are_reached() -> None:
    """One time for three students: who had no lesson yet comes first, then the longest unseen."""
    week, month = student(1, (NOON, 0), unseen=7), student(2, (NOON, 8), unseen=30)
    never = student(3, (NOON, 8), unseen=None)
    assert times(planned(problem(week, month))) == {2: NOON}
    found = planned(problem(week, month, never))
    assert (times(found), found.values["unseen"]) == ({3: NOON}, MOST_DAYS)
    assert found.unreached == ((1, Unreached.NEEDED), (2, Unreached.NEEDED))


def test_of_equal_plans_the_easiest_hours_are_taken() -> None:
    """Each of two could have either time, and together it costs least this way."""
    found = planned(
        problem(student(1, (NOON, 1), (NOON + 60, 3)), student(2, (NOON, 0), (NOON + 60, 1)))
    )
    assert (times(found), found.values["burden"]) == ({1: NOON, 2: NOON + 60}, 2)


def test_two_proposals_never_overlap_with_their_changeover() -> None:
    """25 minutes and 5 of changeover: the next begins at 30 minutes, not at 25."""
    for gap, reached in ((25, 1), (30, 2)):
        found = planned(problem(student(1, (NOON, 0)), student(2, (NOON + gap, 0))))
        assert found.values["reached"] == reached


def test_all_proposals_together_keep_the_load() -> None:
    """Five in a row are 125 minutes, and 120 are allowed; so are they beside a booked lesson."""
    five = [student(i, (NOON + 30 * i, 0)) for i in range(5)]
    assert planned(problem(*five)).values["reached"] == 4
    booked = (Period(at(NOON + 60), at(NOON + 85)),)
    others = [one for i, one in enumerate(five) if i != 2]
    assert planned(problem(*others, taught=booked)).values["reached"] == 3


def test_seconds_and_thirds_are_named_and_would_do_instead() -> None:
    """By burden and then by time; neither over the own first time nor over another's."""
    many = [(NOON, 0), (NOON + 15, 0), (NOON + 30, 3), (NOON + 60, 1), (NOON + 90, 1), (0, 8)]
    found = planned(problem(student(1, *many), student(2, (NOON + 60, 0))))
    first = next(one for one in found.proposals if one.student_id == 1)
    assert minute(first.start.starts_at) in {NOON, NOON + 15}
    assert [minute(one.starts_at) - NOON for one in first.others] == [90, 30]


def test_who_cannot_come_is_told_apart_from_who_is_not_reached() -> None:
    """No start at all; the sentences name no hours."""
    found = planned(problem(student(1), student(2, (NOON, 0))))
    assert found.unreached == ((1, Unreached.NO_TIME),)
    assert Unreached.NO_TIME.sentence == "No free time suits this student."


def test_nobody_due_is_an_empty_plan() -> None:
    """No students, and students without a start."""
    assert planned(problem()).proposals == ()
    assert planned(problem(student(1))).proposals == ()


def test_a_student_or_a_start_named_twice_is_refused() -> None:
    """Each would be held twice."""
    for asked in ((student(1), student(1)), (student(1, (NOON, 0), (NOON, 1)),)):
        with pytest.raises(Refused) as refused:
            problem(*asked)
        assert refused.value.code == "invalid"


def test_a_stopped_plan_tells_what_it_has() -> None:
    """Stopped at once it gives each student in turn the easiest time that is left."""
    asked = problem(student(1, (NOON, 3)), student(2, (NOON, 0), (NOON + 60, 8), unseen=90))
    found = plan_who_next(asked, watch=lambda progress: False)
    assert (times(found), found.is_stopped, found.is_proven) == ({2: NOON}, True, False)
