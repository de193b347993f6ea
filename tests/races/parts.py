"""Cuts a history into parts that cannot touch each other, so that an order is sought in each by
itself.

That is allowed: a history of several objects is linearisable where the history of each is (Herlihy
and Wing 1990, theorem 1). An object here is a stretch of time of one instructor or one student, a
group meeting, a booking, a feed.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from tests.races.acts import Acts, changes
from tests.races.desk.rows import HELD, KINDS, Booking, Desk, Meeting, Proposal, Wait
from tests.races.events import Event
from tests.races.state import BookingRow, MeetingRow, ProposalRow, State

Owner = tuple[str, int]
Stretch = tuple[datetime, datetime]
Thing = tuple[str, Any]
Touch = tuple[Owner, datetime, datetime]


@dataclass
class Part:
    """Events that may touch each other, and what they may touch."""

    events: list[Event] = field(default_factory=list)
    time: dict[Owner, list[Stretch]] = field(default_factory=lambda: defaultdict(list))
    meetings: set[int] = field(default_factory=set)
    proposals: set[int] = field(default_factory=set)

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
            proposals=frozenset(
                _proposal(state.proposals[pk]) for pk in self.proposals if pk in state.proposals
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
        proposed=row.proposed,
        decline_by=row.decline_by,
    )


def _proposal(row: ProposalRow) -> Proposal:
    return Proposal(
        row.id,
        row.student,
        row.instructor,
        moves=row.moves,
        request=row.move_request,
        why=row.ended_why,
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
        proposed=row.is_proposed,
    )


class Groups:
    """Numbers from 0 in groups that are joined one by one (union-find)."""

    def __init__(self, count: int) -> None:
        self._root = list(range(count))

    def of(self, i: int) -> int:
        """The number by which the group of `i` is known."""
        while self._root[i] != i:
            self._root[i] = self._root[self._root[i]]
            i = self._root[i]
        return i

    def join(self, i: int, j: int) -> None:
        self._root[self.of(i)] = self.of(j)


def parts(acts: Acts, events: Sequence[Event]) -> list[Part]:
    """The events in parts; two are in one part where they name one thing, or ask for times of one
    person that overlap.
    """
    touched = [_touched(acts, event) for event in events]
    groups = Groups(len(events))
    _join_by_name(groups, [things for things, _ in touched])
    _join_by_time(groups, [stretches for _, stretches in touched])
    found: dict[int, Part] = defaultdict(Part)
    for i, (things, stretches) in enumerate(touched):
        part = found[groups.of(i)]
        part.events.append(events[i])
        for owner, since, until in stretches:
            part.time[owner].append((since, until))
        part.meetings |= {pk for kind, pk in things if kind == "meeting"}
        part.proposals |= {pk for kind, pk in things if kind == "proposal"}
    return list(found.values())


def _join_by_name(groups: Groups, named: Sequence[Sequence[Thing]]) -> None:
    """Joins events that name one thing."""
    first: dict[Thing, int] = {}
    for i, things in enumerate(named):
        for thing in things:
            groups.join(i, first.setdefault(thing, i))


def _join_by_time(groups: Groups, asked: Sequence[Sequence[Touch]]) -> None:
    """Joins events whose times of one person overlap."""
    times: dict[Owner, list[tuple[datetime, datetime, int]]] = defaultdict(list)
    for i, stretches in enumerate(asked):
        for owner, since, until in stretches:
            times[owner].append((since, until, i))
    for spans in times.values():
        spans.sort()
        reach, last = spans[0][1], spans[0][2]
        for since, until, i in spans[1:]:
            if since < reach:
                groups.join(i, last)
            if until > reach:
                reach, last = until, i


def _touched(acts: Acts, event: Event) -> tuple[list[Thing], list[Touch]]:
    """The things that it names, and whose time it may touch."""
    things: list[Thing] = [*acts.things(event)]
    if event.operation in ("fetch", "renew", "patch"):
        return things, []
    if event.operation in ("days-away", "dismiss"):
        meetings, stretches = _called_off(acts, event)
        return things + meetings, stretches
    if "meeting" in event.arguments:
        things.append(("meeting", event.arguments["meeting"]))
    concerned = acts.concerned(event)
    things += [("proposal", row.id) for row in acts.proposals(event)]
    if event.operation == "propose":
        things.append(("times for", acts.student(event)))  # only so many are open at once
    things += [("booking", pk) for pk in concerned]
    stretches = [touch for pk in concerned for touch in _time_held(acts, pk)]
    if event.operation in ("book-slot", "book-place", "move", "weekly", "accept", "propose"):
        stretches += _time_wanted(acts, event)
        if changes(event):
            things += [("booking", row.id) for row in acts.new_rows(event)]
    return things, stretches


def _called_off(acts: Acts, event: Event) -> tuple[list[Thing], list[Touch]]:
    """The days of an instructor who goes away or leaves, and what they call off in them.

    Of the meetings, groups alone are named: whoever books a place there meets them.
    """
    instructor, first, last = acts.days(event)
    stretches: list[Touch] = [(("instructor", instructor), first, last)]
    if not event.arguments.get("call_off"):
        return [], stretches
    inside = [
        row
        for row in acts.before.by_instructor.get(instructor, ())
        if row.starts_at < last and first < row.ends_at
    ]
    for meeting in inside:
        rows = acts.before.by_meeting.get(meeting.id, ())
        stretches += [(("student", row.student), row.starts_at, row.ends_at) for row in rows]
    return [("meeting", meeting.id) for meeting in inside if not meeting.one_on_one], stretches


def _time_held(acts: Acts, pk: int) -> list[Touch]:
    """The time of a booking."""
    row = acts.booking(pk)
    meeting = acts.meeting(row.meeting) if row is not None else None
    if row is None or meeting is None:
        return []
    held: list[Touch] = [(("student", row.student), row.starts_at, row.ends_at)]
    if meeting.one_on_one:
        owner = ("instructor", meeting.instructor)
        held.append((owner, meeting.starts_at, meeting.held_until))
    return held


def _time_wanted(acts: Acts, event: Event) -> list[Touch]:
    """The time that it asks for: the student's, and the instructor's where it is for a
    one-on-one.
    """
    student = acts.student(event)
    in_a_group = "meeting" in event.arguments or event.operation == "accept"
    wanted: list[Touch] = []
    for instructor, starts_at, ends_at, held_until in acts.wanted(event):
        wanted.append((("student", student), starts_at, ends_at))
        if not in_a_group:
            wanted.append((("instructor", instructor), starts_at, held_until))
    return wanted
