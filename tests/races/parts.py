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

from tests.races.acts import Acts, changes
from tests.races.desk.rows import HELD, KINDS, Booking, Desk, Meeting, Proposal, Wait
from tests.races.events import Event
from tests.races.joining import Groups, Owner, Thing, Touch, join_by_name, join_by_time
from tests.races.pairs import wanted as pair_wanted
from tests.races.state import BookingRow, MeetingRow, ProposalRow, State

Stretch = tuple[datetime, datetime]


@dataclass
class Part:
    """Events that may touch each other, and what they may touch."""

    events: list[Event] = field(default_factory=list)
    time: dict[Owner, list[Stretch]] = field(default_factory=lambda: defaultdict(list))
    meetings: set[int] = field(default_factory=set)
    proposals: set[int] = field(default_factory=set)
    things: set[Thing] = field(default_factory=set)

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
            books=state.books.about(self.things),
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


def parts(acts: Acts, events: Sequence[Event]) -> list[Part]:
    """The events in parts; two are in one part where they name one thing, or ask for times of one
    person that overlap.
    """
    touched = [_touched(acts, event) for event in events]
    groups = Groups(len(events))
    join_by_name(groups, [things for things, _ in touched])
    join_by_time(groups, [stretches for _, stretches in touched])
    found: dict[int, Part] = defaultdict(Part)
    for i, (things, stretches) in enumerate(touched):
        part = found[groups.of(i)]
        part.events.append(events[i])
        for owner, since, until in stretches:
            part.time[owner].append((since, until))
        part.meetings |= {pk for kind, pk in things if kind == "meeting"}
        part.proposals |= {pk for kind, pk in things if kind == "proposal"}
        part.things.update(things)
    return list(found.values())


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
    if event.operation == "move-pair":
        for one in pair_wanted(acts, event):
            stretches.append((("student", one.student), one.starts_at, one.ends_at))
            stretches.append((("instructor", one.instructor), one.starts_at, one.held_until))
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
