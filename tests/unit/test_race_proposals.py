"""The checker of races on proposed times: what is legal passes, and faults made on purpose are
caught.
"""

from dataclasses import replace

from tests.races.events import Event
from tests.races.history import check
from tests.races.state import State
from tests.unit.plain_desk import LESSON
from tests.unit.plain_proposals import ProposingDesk
from tests.unit.race_histories import at, kinds, slot, together

MINUTES = (0, 60, 120)


def proposing(**lesson: int) -> dict[str, object]:
    return {
        "student": 1,
        "instructor": 1,
        "starts": [at(minutes) for minutes in MINUTES],
        "offering": LESSON,
        **lesson,
    }


def two_guardians() -> tuple[ProposingDesk, State, list[Event]]:
    """Bookings 1 to 3 are proposed; one guardian takes the first, the other the second."""
    desk = ProposingDesk()
    desk.ask("propose", **proposing())
    before = desk.state()
    answers = [
        desk.ask("take", proposal=1, booking=1, student=1),
        desk.ask("take", proposal=1, booking=2, student=1),
        desk.ask("decline-times", proposal=1, student=1),
        desk.ask("withdraw-times", proposal=1, student=1),
    ]
    return desk, before, together(answers)


def test_the_first_of_several_answers_is_legal() -> None:
    """One guardian has the time; the other, a no and the instructor come too late."""
    desk, before, events = two_guardians()
    assert [event.status for event in events] == [200, 409, 409, 409]
    assert check(events, before, desk.state()) == []


def test_a_time_that_stays_open_when_another_is_taken_is_caught() -> None:
    """Taking one ends the others: an open one beside a lesson has no order."""
    desk, before, events = two_guardians()
    rows, meetings = dict(desk.bookings), dict(desk.meetings)
    rows[3] = replace(rows[3], standing="OFFERED", ended_why="")
    meetings[3] = replace(meetings[3], live=True, taken=1)
    after = replace(desk.state(), bookings=rows, meetings=desk.state().meetings | {3: meetings[3]})
    assert kinds(events, before, after) == {"not-linearisable"}


def test_two_times_of_one_proposal_that_are_both_taken_are_caught() -> None:
    """A second yes is told that it succeeded, and its lesson stands."""
    desk, before, events = two_guardians()
    desk.bookings[2] = replace(desk.bookings[2], standing="HELD", ended_why="")
    desk.meetings[2] = replace(desk.meetings[2], live=True, is_proposed=False)
    events[1] = replace(events[1], status=200, body={"id": 2})
    assert kinds(events, before, desk.state()) == {"not-linearisable"}


def test_a_yes_that_is_not_kept_is_caught() -> None:
    """Acknowledged, and the proposal is as open as before."""
    _, before, events = two_guardians()
    assert kinds(events[:1], before, before) == {"acked-lost"}


def test_a_lapsed_time_that_is_taken_is_caught() -> None:
    """A yes that was sent after the time to answer; the last reading names that time."""
    desk, before, events = two_guardians()
    after = desk.state()
    due = after.read_at.replace(year=after.read_at.year - 1)
    late = replace(after, proposals={1: replace(after.proposals[1], answer_by=due)})
    assert kinds(events, before, late) == {"queue-order"}


def test_a_lapse_is_one_order_and_a_yes_the_other() -> None:
    """Nobody has to ask for a lapse; a refused yes is justified by it, and an accepted one is not
    kept.
    """
    desk = ProposingDesk()
    desk.ask("propose", **proposing())
    before = desk.state()
    desk.end_proposal(1, "lapsed")
    lapsed = desk.state()
    due = lapsed.monotonic(lapsed.proposals[1].answer_by)
    refused = Event(
        1,
        "take",
        {"proposal": 1, "booking": 1, "student": 1},
        due - 1,
        due + 1,
        409,
        {"code": "offer-ended"},
    )
    assert check([refused], before, lapsed) == []
    early = replace(refused, returned=due - 0.5)
    assert kinds([early], before, lapsed) == {"false-refusal"}
    accepted = replace(refused, status=200, body={"id": 1})
    assert kinds([accepted], before, lapsed) == {"acked-lost"}


def test_a_proposed_time_is_nobody_elses() -> None:
    """A booking at that time is refused while it is proposed, and not once the times have ended."""
    desk = ProposingDesk()
    desk.ask("propose", **proposing())
    before = desk.state()
    wanting = desk.ask("book-slot", **slot(2))
    ending = desk.ask("withdraw-times", proposal=1, student=1)
    booking = desk.ask("book-slot", **slot(2))
    events = [wanting, ending, booking]
    assert [event.status for event in events] == [409, 200, 201]
    assert check(events, before, desk.state()) == []
    late = Event(3, "book-slot", slot(3, 60), 50.0, 51.0, 409, {"code": "taken"})
    assert kinds([*events, late], before, desk.state()) == {"false-refusal"}


def test_a_fourth_time_open_to_one_student_is_caught() -> None:
    """Three are open: one more is refused, and one more that stands has no order."""
    desk = ProposingDesk()
    before = desk.state()
    events = [
        desk.ask("propose", **proposing()),
        desk.ask("propose", **{**proposing(), "starts": [at(180)]}),
    ]
    assert [event.status for event in events] == [201, 409]
    assert check(together(events), before, desk.state()) == []
    booking = desk._hold(2, 1, 1, at(180), LESSON)
    desk.proposals[2] = replace(desk.proposals[1], id=2)
    events[1] = replace(events[1], status=201, body={"id": 2, "times": [{"booking": booking}]})
    assert kinds(events, before, desk.state()) == {"not-linearisable"}


def test_a_time_taken_for_a_lesson_that_is_cancelled_has_one_order() -> None:
    """Moved and then cancelled is legal; cancelled first, the yes has no order."""
    desk = ProposingDesk()
    desk.ask("book-slot", **slot(1, 240))
    desk.ask("propose", **proposing(booking=1))
    before = desk.state()
    taken = desk.ask("take", proposal=1, booking=2, student=1)
    gone = desk.ask("cancel", booking=1)
    assert check(together([gone, taken]), before, desk.state()) == []
    first = replace(gone, called=0.1, returned=0.2)
    assert kinds([first, taken], before, desk.state()) == {"not-linearisable"}
