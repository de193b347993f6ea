"""Cuts a history into parts that cannot touch each other, so that an order is sought in each by
itself.

That is allowed: a history of several objects is linearisable where the history of each is (Herlihy
and Wing 1990, theorem 1). An object here is a stretch of time of one instructor or one student, a
group meeting, a booking, a feed.
"""

from collections import defaultdict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from tests.races.acts import Acts, changes
from tests.races.desk.rows import HELD, KINDS, Booking, Desk, Meeting, Wait
from tests.races.events import Event
from tests.races.state import BookingRow, MeetingRow, State

Owner = tuple[str, int]
Stretch = tuple[datetime, datetime]


@dataclass
class Part:
    """Events that may touch each other, and what they may touch."""

    events: list[Event] = field(default_factory=list)
    time: dict[Owner, list[Stretch]] = field(default_factory=lambda: defaultdict(list))
    meetings: set[int] = field(default_factory=set)

    def covers(self, owner: Owner, starts_at: datetime, ends_at: datetime) -> bool:
        return any(
            starts_at < until and since < ends_at for since, until in self.time.get(owner, ())
        )

    def desk(self, state: State) -> Desk:
        """What stands in this part of a reading."""
        live = {
            pk: row
            for pk in self.meetings
            if (row := state.meetings.get(pk)) is not None and row.live
        }
        for kind, pk in self.time:
            if kind == "instructor":
                found = state.by_instructor.get(pk, ())
                live |= {
                    row.id: row
                    for row in found
                    if self.covers((kind, pk), row.starts_at, row.held_until)
                }
        booked = {row.id: row for pk in live for row in state.by_meeting.get(pk, ())}
        for kind, pk in self.time:
            if kind == "student":
                theirs = state.by_student.get(pk, ())
                held = (
                    row
                    for row in theirs
                    if row.standing == HELD and self.covers((kind, pk), row.starts_at, row.ends_at)
                )
                booked |= {row.id: row for row in held}
        return Desk(
            frozenset(map(_meeting, live.values())),
            frozenset(map(_booking, booked.values())),
            frozenset(
                Wait(row.id, row.joined_at, row.meeting, row.student, kind, row.offer)
                for pk in live
                for kind in KINDS
                for row in state.queues.get((pk, kind), ())
            ),
        )


def _booking(row: BookingRow) -> Booking:
    """When an offer is to be answered is left out: an order has no clock."""
    return Booking(
        row.id,
        row.meeting,
        row.student,
        row.place_kind,
        row.standing,
        row.starts_at,
        row.ends_at,
    )


def _meeting(row: MeetingRow) -> Meeting:
    return Meeting(
        row.id,
        row.instructor,
        row.starts_at,
        row.ends_at,
        row.held_until,
        row.one_on_one,
        row.places,
        row.listener_places,
    )


def parts(acts: Acts, events: Sequence[Event]) -> list[Part]:
    """The events in parts; two are in one part where they name one thing, or ask for times of one
    person that overlap.
    """
    root = list(range(len(events)))

    def find(i: int) -> int:
        while root[i] != i:
            root[i] = root[root[i]]
            i = root[i]
        return i

    named: dict[Hashable, int] = {}
    times: dict[Owner, list[tuple[datetime, datetime, int]]] = defaultdict(list)
    touched = [_touched(acts, event) for event in events]
    for i, (things, stretches) in enumerate(touched):
        for thing in things:
            root[find(i)] = find(named.setdefault(thing, i))
        for owner, since, until in stretches:
            times[owner].append((since, until, i))
    for spans in times.values():
        spans.sort()
        reach, last = spans[0][1], spans[0][2]
        for since, until, i in spans[1:]:
            if since < reach:
                root[find(i)] = find(last)
            if until > reach:
                reach, last = until, i
    found: dict[int, Part] = defaultdict(Part)
    for i, (things, stretches) in enumerate(touched):
        part = found[find(i)]
        part.events.append(events[i])
        for owner, since, until in stretches:
            part.time[owner].append((since, until))
        part.meetings |= {pk for kind, pk in things if kind == "meeting"}
    return list(found.values())


def _touched(
    acts: Acts, event: Event
) -> tuple[list[tuple[str, Any]], list[tuple[Owner, datetime, datetime]]]:
    """The things that it names, and whose time it may touch."""
    sent = event.arguments
    things: list[tuple[str, Any]] = [*acts.things(event)]
    stretches: list[tuple[Owner, datetime, datetime]] = []
    if event.operation in ("fetch", "renew", "patch"):
        return things, stretches
    if event.operation in ("days-away", "dismiss"):
        instructor, first, last = acts.days(event)
        stretches.append((("instructor", instructor), first, last))
        if sent.get("call_off"):
            inside = [
                row
                for row in acts.before.by_instructor.get(instructor, ())
                if row.starts_at < last and first < row.ends_at
            ]
            rows = [row for meeting in inside for row in acts.before.by_meeting.get(meeting.id, ())]
            things += [
                ("meeting", meeting.id) for meeting in inside if not meeting.one_on_one
            ]  # whoever books a place there meets it
            stretches += [(("student", row.student), row.starts_at, row.ends_at) for row in rows]
        return things, stretches
    if "meeting" in sent:
        things.append(("meeting", sent["meeting"]))
    if "booking" in sent:
        row = acts.booking(sent["booking"])
        meeting = acts.meeting(row.meeting) if row is not None else None
        if row is not None and meeting is not None:
            stretches.append((("student", row.student), row.starts_at, row.ends_at))
            if meeting.one_on_one:
                stretches.append(
                    (("instructor", meeting.instructor), meeting.starts_at, meeting.held_until)
                )
    if event.operation in ("book-slot", "book-place", "move", "weekly", "accept"):
        student = acts.student(event)
        for instructor, starts_at, ends_at, held_until in acts.wanted(event):
            stretches.append((("student", student), starts_at, ends_at))
            if "meeting" not in sent and event.operation != "accept":
                stretches.append((("instructor", instructor), starts_at, held_until))
        if changes(event):
            things += [("booking", row.id) for row in acts.new_rows(event)]
    return things, stretches
