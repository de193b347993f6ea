"""In which order a cover's handovers are written, and which of them wait for a yes."""

from dataclasses import replace

from bookings.domain.planning.cover import CoverProblem, Substitute
from bookings.domain.planning.cover_order import steps
from bookings.domain.planning.cover_plan import plan_cover
from bookings.domain.policy import Policy
from tests.unit.planned_covers import SOREN, TOVE, WREN, lesson, substitute


def told(*substitutes: Substitute) -> list[tuple[int, bool]]:
    """(lesson, whether it waits) of the best cover of lesson 1, of offering 2, in order."""
    problem = CoverProblem((lesson(1, offering=2),), substitutes, Policy())
    found = steps(problem, plan_cover(problem))
    return [(step.handover.lesson_id, step.waits) for step in found]


def test_a_lesson_is_taken_after_its_taker_has_room() -> None:
    """A chain of three: the last link is written first."""
    first = substitute(WREN, lesson(7, offering=3), offerings="23")
    second = substitute(SOREN, lesson(8, offering=4), offerings="34")
    third = substitute(TOVE, offerings="4")
    assert told(first, second, third) == [(8, False), (7, False), (1, False)]


def test_a_whole_chain_waits_for_one_yes() -> None:
    """Whether the taker of the first lesson or of the last has to say yes."""
    wren, soren = substitute(WREN, lesson(7), offerings="12"), substitute(SOREN)
    assert told(wren, replace(soren, hours=())) == [(7, True), (1, True)]
    assert told(replace(wren, hours=()), soren) == [(7, True), (1, True)]


def test_a_yes_of_one_chain_does_not_hold_up_another_lesson() -> None:
    """Tove takes a lesson at another time, in their hours."""
    waits = replace(substitute(SOREN), hours=())
    problem = CoverProblem(
        (lesson(1), lesson(2, 900, offering=2)), (waits, substitute(TOVE, offerings="2")), Policy()
    )
    found = steps(problem, plan_cover(problem))
    assert {step.handover.lesson_id: step.waits for step in found} == {1: True, 2: False}
