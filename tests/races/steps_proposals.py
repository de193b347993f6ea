"""Requests about proposed times, and a lesson declined, as acts of the model."""

from collections.abc import Iterator

from tests.races.acts import Acts, changes
from tests.races.desk.lessons import DeclineLesson, Lesson
from tests.races.desk.proposals import EndTimes, LapseTimes, Propose, TakeTime
from tests.races.desk.rows import Desk, Meeting, Proposal
from tests.races.desk.setting import Act
from tests.races.events import Event

NONE = -1
"""The id of what a refused request has not made."""


def propose(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    sent, wanted = event.arguments, acts.wanted(event)
    rows = {row.starts_at: row for row in (acts.new_rows(event) if changes(event) else ())}
    if changes(event) and rows.keys() != {starts_at for _, starts_at, _, _ in wanted}:
        return
    times = []
    for instructor, starts_at, ends_at, held_until in wanted:
        row = rows.get(starts_at)
        meeting, booking = (NONE, NONE) if row is None else (row.meeting, row.id)
        at = Meeting(meeting, instructor, starts_at, ends_at, held_until)
        times.append(Lesson(at, acts.student(event), booking))
    made = Proposal(
        event.body.get("id", NONE),
        acts.student(event),
        wanted[0][0],
        moves=sent.get("booking"),
        request=sent.get("move_request"),
    )
    yield Propose(made, tuple(times))


def take(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield TakeTime(event.arguments["proposal"], event.arguments["booking"])


def decline(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield EndTimes(event.arguments["proposal"], "declined")


def withdraw(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield EndTimes(event.arguments["proposal"], "removed")


def lapse(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield LapseTimes(event.arguments["proposal"])


def decline_lesson(acts: Acts, desk: Desk, event: Event) -> Iterator[Act]:
    yield DeclineLesson(event.arguments["booking"])
