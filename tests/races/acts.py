"""What a request is about: whose time, which meeting, which rows it made."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from tests.races.desk.rows import ALWAYS, PLAYER, Away
from tests.races.events import Event
from tests.races.setting import Race
from tests.races.state import BookingRow, MeetingRow, ProposalRow, State

NAMED = ("booking", "meeting", "feed", "thing", "proposal", "owed_lesson", "books", "exchange")
"""What a request may be about; "books" are an instructor's registers and statements."""
FIRST_YES = timedelta(hours=4)
"""Nearer than this to its start a meeting offers nothing: the first yes of those who wait has the
place (TRADE.md, waiting lists).
"""


def instant(text: str) -> datetime:
    """An instant of a body, in UTC."""
    return datetime.fromisoformat(text).astimezone(UTC)


def succeeded(event: Event) -> bool:
    return event.status is not None and 200 <= event.status < 300


def unknown(event: Event) -> bool:
    """It may have happened: no answer came, or a fault did."""
    return event.status is None or (event.status >= 500 and event.body.get("code") != "busy")


def refused(event: Event) -> bool:
    return not succeeded(event) and not unknown(event)


def changes(event: Event) -> bool:
    """Whether it may have written."""
    return event.operation != "fetch" and not refused(event)


@dataclass(frozen=True)
class Acts:
    """Requests read beside the rows of one race.

    Rows are never deleted, so `after` names what an answer only hints at.
    """

    before: State
    after: State
    claimed: frozenset[int] = frozenset()
    """Bookings that an answer names: nobody whose answer never came made them."""

    def booking(self, pk: int) -> BookingRow | None:
        return self.before.bookings.get(pk) or self.after.bookings.get(pk)

    def meeting(self, pk: int) -> MeetingRow | None:
        return self.before.meetings.get(pk) or self.after.meetings.get(pk)

    def things(self, event: Event) -> list[tuple[str, Any]]:
        """What it changes the version of."""
        sent = event.arguments
        named: list[tuple[str, Any]] = [(name, sent[name]) for name in NAMED if name in sent]
        if "with_sibling" in sent:
            named.append(("booking", sent["with_sibling"]))
        rows = [self.booking(pk) for kind, pk in named if kind == "booking"]
        return [*named, *(("meeting", row.meeting) for row in rows if row is not None)]

    def wanted(self, event: Event) -> list[tuple[int, datetime, datetime, datetime]]:
        """The periods that a booking or a move asks for: instructor, start, end, end with
        changeover.
        """
        sent = event.arguments
        if event.operation == "weekly":
            return self._lessons_wanted(event)
        starts = [sent["starts_at"]] if "starts_at" in sent else sent.get("starts")
        if starts is not None:
            found = self._asked_of(event)
            if found is None:
                return []
            instructor, (minutes, changeover) = found
            length, hold = timedelta(minutes=minutes), timedelta(minutes=changeover)
            return [
                (instructor, start, start + length, start + length + hold)
                for start in map(instant, starts)
            ]
        row = self._group(event)
        return [] if row is None else [(row.instructor, row.starts_at, row.ends_at, row.held_until)]

    def kind(self, event: Event) -> str:
        """The kind of place it is about."""
        row = self.booking(event.arguments["booking"]) if "booking" in event.arguments else None
        return str(event.arguments.get("as", PLAYER)) if row is None else row.place_kind

    def student(self, event: Event) -> int:
        """Whom it concerns; 0 where nobody knows."""
        row = self.booking(event.arguments["booking"]) if "booking" in event.arguments else None
        return int(event.arguments.get("student", 0) if row is None else row.student)

    def days(self, event: Event) -> Away:
        """Days away; of somebody who leaves, all time."""
        sent = event.arguments
        if event.operation == "dismiss":
            return Away(sent["instructor"], *ALWAYS)
        zone = ZoneInfo(sent.get("time_zone") or self.after.zones.get(sent["instructor"], "UTC"))
        first = datetime.combine(date.fromisoformat(sent["first_on"]), time(), zone)
        last = datetime.combine(
            date.fromisoformat(sent["last_on"]) + timedelta(days=1), time(), zone
        )
        return Away(sent["instructor"], first.astimezone(UTC), last.astimezone(UTC))

    def proposals(self, event: Event) -> list[ProposalRow]:
        """The proposal that it names or makes, and those that would move the booking it names."""
        sent = event.arguments
        pk = sent.get("proposal", event.body.get("id") if event.operation == "propose" else None)
        lessons = [sent[name] for name in ("booking", "with_sibling") if name in sent]
        return [
            row
            for row in (self.before.proposals | self.after.proposals).values()
            if row.id == pk or row.moves in lessons
        ]

    def answer_by(self, event: Event) -> datetime | None:
        """Until when the offer or the proposal that it names can be answered."""
        if "proposal" in event.arguments:
            return self.after.proposals[event.arguments["proposal"]].answer_by
        row = self.booking(event.arguments.get("booking", 0))
        return row.answer_by if row is not None else None

    def concerned(self, event: Event) -> list[int]:
        """The ids of the bookings whose time it may touch: its own, the times that are proposed
        with it, and the lesson that these would move.
        """
        found = self.proposals(event)
        sent = event.arguments
        named = [*(row.moves for row in found), sent.get("booking"), sent.get("with_sibling")]
        times = [pk for row in found for pk in self._times.get(row.id, ())]
        return [pk for pk in [*named, *times] if pk is not None]

    @cached_property
    def _times(self) -> dict[int, list[int]]:
        """The bookings that are or were times of each proposal."""
        times: dict[int, list[int]] = defaultdict(list)
        for row in (self.before.bookings | self.after.bookings).values():
            if row.proposed is not None:
                times[row.proposed].append(row.id)
        return times

    def new_rows(self, event: Event) -> list[BookingRow]:
        """The bookings that it made, or may have made where no answer came."""
        if succeeded(event):
            many = {"weekly": "lessons", "propose": "times"}.get(event.operation)
            ids = [row["booking"] for row in event.body[many]] if many else [event.body["id"]]
            return [self.after.bookings[pk] for pk in ids if pk in self.after.bookings]
        return [
            row
            for row in self._made
            if row.student == self.student(event) and self._fits(event, row)
        ]

    @cached_property
    def setting(self) -> "Race":
        near = {
            row.id
            for row in self.after.meetings.values()
            if row.starts_at - self.after.read_at < FIRST_YES
        }
        offers = {row.id: row.offer for row in self.after.waiting.values() if row.offer}
        return Race(offers, self.after.ineligible | self.before.ineligible, frozenset(near))

    @cached_property
    def _made(self) -> list[BookingRow]:
        """Bookings of the race that nobody was offered and no answer names."""
        known = self.before.bookings.keys() | self.claimed
        return [
            row
            for pk, row in self.after.bookings.items()
            if pk not in known and row.waiting_place is None and row.proposed is None
        ]

    def _fits(self, event: Event, row: BookingRow) -> bool:
        meeting = self.after.meetings.get(row.meeting)
        if event.operation in ("book-place", "move"):
            return row.meeting == event.arguments.get(
                "meeting"
            ) and row.place_kind == event.arguments.get("as", row.place_kind)
        if meeting is None or not meeting.one_on_one:
            return False
        if event.operation == "weekly":
            zone = ZoneInfo(self.after.zones.get(meeting.instructor, "UTC"))
            at = meeting.starts_at.astimezone(zone).time()
            return (meeting.instructor, at) == (
                event.arguments["instructor"],
                time.fromisoformat(event.arguments["wall_time"]),
            )
        return True  # it may have been moved since, so neither its start nor its instructor tells

    def _group(self, event: Event) -> MeetingRow | None:
        pk = event.arguments.get("meeting")
        if pk is None and "booking" in event.arguments:
            row = self.booking(event.arguments["booking"])
            pk = row.meeting if row is not None else None
        return self.meeting(pk) if pk is not None else None

    def _asked_of(self, event: Event) -> tuple[int, tuple[int, int]] | None:
        sent = event.arguments
        if "offering" in sent:
            return sent["instructor"], self.after.offerings[sent["offering"]]
        row = self._group(event)
        if row is None:
            return None
        length, hold = row.ends_at - row.starts_at, row.held_until - row.ends_at
        return sent.get("instructor", row.instructor), (
            length // timedelta(minutes=1),
            hold // timedelta(minutes=1),
        )

    def _lessons_wanted(self, event: Event) -> list[tuple[int, datetime, datetime, datetime]]:
        sent, (minutes, changeover) = (
            event.arguments,
            self.after.offerings[event.arguments["offering"]],
        )
        zone = ZoneInfo(self.after.zones.get(sent["instructor"], "UTC"))
        if succeeded(event):
            starts = [instant(lesson["starts_at"]) for lesson in event.body["lessons"]]
        elif refused(event):
            wall = time.fromisoformat(sent["wall_time"])
            days = [date.fromisoformat(day["on"]) for day in event.body.get("dates", ())]
            starts = [datetime.combine(day, wall, zone).astimezone(UTC) for day in days]
        else:
            starts = [row.starts_at for row in self.new_rows(event)]
        ends = [start + timedelta(minutes=minutes) for start in starts]
        hold = timedelta(minutes=changeover)
        return [
            (sent["instructor"], start, end, end + hold)
            for start, end in zip(starts, ends, strict=True)
        ]
