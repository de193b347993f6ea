"""Covering: what a plan keeps, what it weighs, and why a lesson is left."""

from dataclasses import replace

import pytest

from bookings.domain.errors import Refused
from bookings.domain.planning.cover import (
    Cover,
    CoverProblem,
    Handover,
    Lesson,
    Substitute,
    Teaches,
    Uncovered,
)
from bookings.domain.planning.cover_plan import plan_cover
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period
from tests.unit.plain_cover import at
from tests.unit.planned_covers import ALL_DAY, ILSE, NOON, SOREN, WREN, lesson, substitute


def covered(lessons: list[Lesson], *substitutes: Substitute, policy: Policy | None = None) -> Cover:
    found = plan_cover(CoverProblem(tuple(lessons), substitutes, policy or Policy()))
    assert found.is_proven
    return found


def who(found: Cover) -> dict[int, int]:
    return {one.lesson_id: one.instructor_id for one in found.handovers}


def test_a_free_substitute_takes_a_lesson_at_its_time() -> None:
    """Source: TRADE.md 8 (21): Wren is proposed as substitute."""
    found = covered([lesson(1)], substitute(WREN))
    assert found.handovers == (Handover(1, WREN, None, (), False),)
    assert (found.uncovered, found.is_stopped) == ((), False)


def test_nothing_to_cover_is_an_empty_plan() -> None:
    """Without lessons, and without substitutes."""
    assert covered([], substitute(WREN)).handovers == ()
    assert covered([lesson(1)]).uncovered == ((1, Uncovered.NOT_TAUGHT),)


def test_a_known_instructor_is_preferred_and_a_yes_weighs_more() -> None:
    """Whom the student has met comes first; a stranger comes before one who has to say yes."""
    known, other = substitute(WREN), substitute(ILSE)
    assert who(covered([lesson(1, met=WREN)], other, known)) == {1: WREN}
    outside = replace(known, hours=())
    assert who(covered([lesson(1, met=WREN)], other, outside)) == {1: ILSE}


def test_a_plain_cover_asks_nobody() -> None:
    """Outside hours or beyond the load nobody takes a lesson, unless they have said yes; whoever
    needs no yes takes what they can.
    """
    outside = substitute(WREN, hours=())
    full = substitute(SOREN, taught=(Period(at(NOON - 130), at(NOON - 10)),))

    def plain(*substitutes: Substitute) -> Cover:
        lessons = (lesson(1), lesson(2, NOON + 60))
        return plan_cover(CoverProblem(lessons, substitutes, Policy(), only_plain=True))

    assert plain(outside).uncovered == ((1, Uncovered.NOT_FREE), (2, Uncovered.NOT_FREE))
    assert who(plain(replace(outside, says_yes=(2,)))) == {2: WREN}
    assert who(plain(outside, full)) == {2: SOREN}
    assert plain(outside, full).is_proven


def test_outside_hours_a_lesson_needs_a_yes_and_once_given_none() -> None:
    """The hour before the hours open; hours that touch are one stretch."""
    opens = replace(substitute(WREN), hours=(Period(at(NOON + 5), at(NOON + 60)),))
    (one,) = covered([lesson(1)], opens).handovers
    assert one.needs_yes == ("outside-hours",)
    (agreed,) = covered([lesson(1)], replace(opens, says_yes=(1,))).handovers
    assert agreed.needs_yes == ()
    touching = (Period(at(NOON - 5), at(NOON + 10)), Period(at(NOON + 10), at(NOON + 25)))
    assert covered([lesson(1)], replace(opens, hours=touching)).handovers[0].needs_yes == ()


@pytest.mark.parametrize(
    ("taught", "policy", "code"),
    [
        ([(NOON - 130, 120)], Policy(), "load-run"),
        ([(NOON - 300, 100)], Policy(day_minutes=120), "load-day"),
        ([(NOON - 300 + 1440, 100)], Policy(week_minutes=120), "load-week"),
        ([(NOON - 13 * 60, 30)], Policy(night_rest_minutes=13 * 60), "load-rest"),
    ],
)
def test_beyond_the_load_a_lesson_needs_a_yes(
    taught: list[tuple[int, int]], policy: Policy, code: str
) -> None:
    """A run, a day, a week and a night's rest: one lesson more breaks each. Source: domain.load."""
    periods = tuple(Period(at(start), at(start + length)) for start, length in taught)
    (one,) = covered([lesson(1)], substitute(WREN, taught=periods), policy=policy).handovers
    assert one.needs_yes == (code,)


def test_only_as_many_yeses_are_asked_for_as_the_load_needs() -> None:
    """Five lessons in a row are 125 minutes, and 120 are allowed: one yes, not five."""
    lessons = [lesson(i, NOON + 30 * i) for i in range(5)]
    found = covered(lessons, substitute(WREN))
    assert (found.values["covered"], found.values["yeses"]) == (5, 1)
    assert [one.needs_yes for one in found.handovers if one.needs_yes] == [("load-run",)]
    assert covered(lessons, substitute(WREN), substitute(ILSE)).values["yeses"] == 0


def test_a_substitute_s_own_lesson_makes_room() -> None:
    """Only Wren teaches harp theory; Soren takes Wren's own lesson at that time."""
    found = covered(
        [lesson(1, offering=2)],
        substitute(WREN, lesson(7, met=WREN), offerings="12"),
        substitute(SOREN),
    )
    assert who(found) == {1: WREN, 7: SOREN}
    assert [one.makes_room_for for one in found.handovers] == [None, 1]


def chain(length: int) -> Cover:
    """A lesson that only the first of `length` substitutes teaches; each has one that only the next
    could take, and the last is free.
    """
    people = [
        substitute(i, *([lesson(10 + i, offering=i + 1)] if i < length else []), offerings=str(i))
        for i in range(1, length + 1)
    ]
    return covered([lesson(1, offering=1)], *people)


def test_at_most_three_lessons_change_hands_for_one_another() -> None:
    """Chains of one, two and three are planned, one of four is not."""
    assert [len(chain(length).handovers) for length in (1, 2, 3)] == [1, 2, 3]
    assert [one.makes_room_for for one in chain(3).handovers] == [None, 1, 11]
    assert chain(4).uncovered == ((1, Uncovered.NOT_FREE),)


def test_no_lesson_moves_where_another_substitute_is_free() -> None:
    """Fewest moves: Soren is free and takes the lesson, and Wren keeps their own."""
    found = covered([lesson(1)], substitute(WREN, lesson(7)), substitute(SOREN))
    assert who(found) == {1: SOREN}


def test_a_lesson_and_its_changeover_need_the_time() -> None:
    """A meeting that begins in the changeover is in the way; busy time only in the lesson."""
    later = (Period(at(NOON + 25), at(NOON + 60)),)
    assert covered([lesson(1)], substitute(WREN, meetings=later)).handovers == ()
    assert who(covered([lesson(1)], substitute(WREN, busy=later))) == {1: WREN}


@pytest.mark.parametrize(
    ("those", "why"),
    [
        ([substitute(WREN, offerings="2")], Uncovered.NOT_TAUGHT),
        ([substitute(WREN, teaches=(Teaches(1, 4, 10),))], Uncovered.NOT_TAUGHT),
        ([substitute(WREN, says_no=(1,))], Uncovered.SAID_NO),
        ([substitute(WREN, busy=ALL_DAY)], Uncovered.NOT_FREE),
        ([substitute(WREN, says_no=(1,)), substitute(ILSE, busy=ALL_DAY)], Uncovered.NOT_FREE),
    ],
)
def test_why_a_lesson_is_not_covered(those: list[Substitute], why: Uncovered) -> None:
    """Each reason, in a sentence."""
    found = covered([lesson(1)], *those)
    assert found.uncovered == ((1, why),)
    assert why.sentence.endswith(".")


def test_whoever_is_needed_for_another_lesson_is_said_to_be() -> None:
    """Two lessons overlap and one substitute is free: one is left for that reason."""
    found = covered([lesson(1, met=WREN), lesson(2, NOON + 15)], substitute(WREN))
    assert who(found) == {1: WREN}
    assert found.uncovered == ((2, Uncovered.NEEDED),)


@pytest.mark.parametrize(
    ("lessons", "those"),
    [
        ([lesson(1), lesson(1)], [substitute(WREN)]),
        ([lesson(1)], [substitute(WREN, lesson(1, 0))]),
        ([lesson(1)], [substitute(WREN), substitute(WREN)]),
        ([lesson(1)], [substitute(WREN, lesson(2), lesson(3, NOON + 10))]),
    ],
)
def test_what_is_no_problem_is_refused(lessons: list[Lesson], those: list[Substitute]) -> None:
    """A lesson twice, also as an own one; a substitute twice; two own lessons at once."""
    with pytest.raises(Refused) as refused:
        CoverProblem(tuple(lessons), tuple(those), Policy())
    assert refused.value.code == "invalid"


def test_a_stopped_plan_tells_what_it_has() -> None:
    """Stopped before it began, it covers nothing and says so."""
    problem = CoverProblem((lesson(1),), (substitute(WREN),), Policy())
    found = plan_cover(problem, watch=lambda progress: False)
    assert found.is_stopped
    assert not found.is_proven
    assert found.handovers == ()
