"""The checker of races on drawn histories: legal ones pass, and what it says of altered ones is
what every order tried in turn says.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given, note, settings
from hypothesis import strategies as st

from tests.races.acts import Acts, changes
from tests.races.desk.rows import Desk
from tests.races.events import Event
from tests.races.history import check
from tests.races.parts import Part
from tests.races.reasons import justified
from tests.races.state import State
from tests.races.steps import apply
from tests.unit.plain_desk import MINUTE, NOON, PlainDesk
from tests.unit.race_histories import at, slot, without_booking

MEETING = 1
EXAMPLES = max(300, settings().max_examples)
"""More than the quick profile gives: most faults of a checker need a handful of requests that meet
just so.
"""
STUDENTS = st.integers(1, 4)
MINUTES = st.sampled_from((0, 15, 30, 60))
ALWAYS = (NOON - 10_000 * MINUTE, NOON + 10_000 * MINUTE)
CODES = (
    "taken",
    "own-clash",
    "no-place",
    "already-booked",
    "already-ended",
    "already-waiting",
    "places-free",
    "offer-ended",
    "has-bookings",
)


@st.composite
def histories(draw: st.DrawFn, most: int) -> tuple[list[Event], State, State]:
    """A few requests, one after another on a desk where something stands already, then stretched in
    time so that they overlap.
    """
    desk = PlainDesk()
    desk.group(draw(st.integers(1, 3)), starts_at=NOON + 20 * MINUTE)
    for _ in range(draw(st.integers(0, 4))):
        _ask(draw, desk)
    before, start = desk.state(), desk.clock
    events = [_ask(draw, desk) for _ in range(draw(st.integers(1, most)))]
    wide = st.floats(0, 4)
    stretched = [
        replace(e, called=e.called - draw(wide), returned=(e.returned or 0) + draw(wide))
        for e in events
    ]
    note("\n".join(map(str, stretched)))
    return [replace(e, called=max(e.called, start)) for e in stretched], before, desk.state()


def _ask(draw: st.DrawFn, desk: PlainDesk) -> Event:
    operations = ["book-slot", "book-place", "wait", "places"]
    if desk.bookings:
        operations += ["cancel", "accept", "decline"]
    if any(desk.meetings[row.meeting].one_on_one for row in desk.bookings.values()):
        operations.append("move")
    operation = draw(st.sampled_from(operations))
    if operation == "book-slot":
        return desk.ask(operation, **slot(draw(STUDENTS), draw(MINUTES), draw(st.integers(1, 2))))
    if operation in ("book-place", "wait"):
        return desk.ask(operation, student=draw(STUDENTS), meeting=MEETING)
    if operation == "places":
        return desk.ask(operation, meeting=MEETING, places=draw(st.integers(1, 4)))
    ones = [
        pk
        for pk, row in desk.bookings.items()
        if operation != "move" or desk.meetings[row.meeting].one_on_one
    ]
    booking = draw(st.sampled_from(ones))
    if operation == "move":
        return desk.ask(operation, booking=booking, starts_at=at(draw(MINUTES)))
    return desk.ask(operation, booking=booking)


@st.composite
def altered(draw: st.DrawFn) -> tuple[list[Event], State, State]:
    """A history of at most six requests of which one is answered otherwise, or whose last reading
    lacks a live booking.
    """
    events, before, after = draw(histories(6))
    live = [
        pk
        for pk, row in after.bookings.items()
        if row.live and pk not in before.bookings and row.waiting_place is None
    ]
    if live and draw(st.booleans()):
        return events, before, without_booking(after, draw(st.sampled_from(live)))
    i = draw(st.integers(0, len(events) - 1))
    event = events[i]
    if event.status == 409 and draw(st.booleans()):
        ids = st.sampled_from([*after.bookings, *after.waiting, 99])
        pk = event.arguments.get("booking") or draw(ids)
        events[i] = replace(
            event, status=200, body={"id": pk, "starts_at": event.arguments.get("starts_at", "")}
        )
    else:
        events[i] = replace(event, status=409, body={"code": draw(st.sampled_from(CODES))})
    return events, before, after


def whole(events: Sequence[Event]) -> Part:
    """Everything at once, uncut."""
    part = Part(list(events), meetings={MEETING})
    for owner in range(1, 10):
        part.time["instructor", owner].append(ALWAYS)
        part.time["student", owner].append(ALWAYS)
    return part


def some_order(events: Sequence[Event], before: State, after: State) -> bool:
    """Whether an order that is true to the clock explains the answers: every one is tried."""
    acts, part = Acts(before, after), whole(events)
    start, end = part.desk(before), part.desk(after)
    return any(
        _explains(acts, line, start, end)
        for line in permutations(events)
        if _true_to_the_clock(line)
    )


def _true_to_the_clock(line: Sequence[Event]) -> bool:
    return not any(
        later.returned is not None and later.returned < first.called
        for i, first in enumerate(line)
        for later in line[i + 1 :]
    )


def _explains(acts: Acts, line: Sequence[Event], start: Desk, end: Desk) -> bool:
    desks = [start]
    for event in line:
        if changes(event):
            desks = [after for desk in desks for after in apply(acts, desk, event)]
        else:
            desks = [desk for desk in desks if justified(acts, desk, event)]
    return any(desk.standing() == end for desk in desks)


@settings(max_examples=EXAMPLES)
@given(histories(20))
def test_what_came_from_one_order_is_legal_however_the_requests_overlap(
    history: tuple[list[Event], State, State],
) -> None:
    """Stretching a request in time never makes a legal history illegal."""
    assert check(*history) == []


@settings(max_examples=EXAMPLES)
@given(altered())
def test_an_altered_history_is_judged_as_by_trying_every_order(
    history: tuple[list[Event], State, State],
) -> None:
    """A fault is found where no order of all permutations explains the answers, and only there."""
    assert (check(*history) == []) == some_order(*history)


@pytest.mark.parametrize("places", [1, 50])
def test_two_hundred_requests_at_once_are_decided(places: int) -> None:
    """Half of them book and half cancel, all under way together: decided within the search's
    budget, legal or not.
    """
    desk = PlainDesk()
    meeting = desk.group(places)
    for student in range(1, places + 1):
        desk.ask("book-place", student=student, meeting=meeting)
    before = desk.state()
    events = [desk.ask("cancel", booking=pk) for pk in range(1, places + 1)]
    events += [
        desk.ask("book-place", student=200 + i, meeting=meeting) for i in range(200 - places)
    ]
    events = [replace(event, called=0.0, returned=1000.0) for event in events]
    assert check(events, before, desk.state()) == []
    lost = next(pk for pk in desk.bookings if desk.bookings[pk].live)
    found = check(events, before, without_booking(desk.state(), lost))
    assert "acked-lost" in {violation.kind for violation in found}
    assert not any("undecided" in violation.text for violation in found)
