"""What could have stood while a request was under way: enough to say that a refusal had no reason
at all.
"""

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from tests.races.acts import Acts, changes, succeeded
from tests.races.events import Event
from tests.races.pairs import Wanted
from tests.races.pairs import wanted as pair_wanted
from tests.races.reasons import is_known, own_meetings
from tests.races.state import BookingRow

MOVES = ("move", "move-pair")
"""What gives a one-on-one another time."""


@dataclass(frozen=True, slots=True)
class _Span:
    """A time that was perhaps taken, from one instant of the race to another."""

    meeting: int
    starts_at: datetime
    ends_at: datetime
    since: float
    until: float

    def meets(
        self, event: Event, starts_at: datetime, ends_at: datetime, but: Collection[int]
    ) -> bool:
        """Whether it could have stood in the way of that time while the request was under way."""
        together = event.called <= self.until and self.since <= (
            math.inf if event.returned is None else event.returned
        )
        return (
            together
            and self.meeting not in but
            and self.starts_at < ends_at
            and starts_at < self.ends_at
        )


class Standing:
    """Everything that could have stood at some moment of the race, with room for doubt."""

    def __init__(self, acts: Acts, events: Sequence[Event]) -> None:
        self.acts = acts
        self.writes = [event for event in events if changes(event)]
        self.about: dict[int, list[Event]] = defaultdict(list)
        self.made: dict[int, Event] = {}
        for event in self.writes:
            for name in ("booking", "with_sibling"):
                if name in event.arguments:
                    self.about[event.arguments[name]].append(event)
            if succeeded(event):
                self.made |= dict.fromkeys(made_by(event), event)
        self.taught: dict[int, list[_Span]] = defaultdict(list)
        self.held: dict[int, list[_Span]] = defaultdict(list)
        self.seats: dict[tuple[int, str], list[_Span]] = defaultdict(list)
        for row in {**acts.before.bookings, **acts.after.bookings}.values():
            stood = acts.before.bookings.get(row.id)
            if stood is None or stood.live:
                self._add(stood or row)
        for event in self.made.values():
            self._add_lost(event)
        for meeting in acts.before.meetings.values():
            if meeting.live and not meeting.one_on_one:
                self.taught[meeting.instructor].append(
                    _Span(meeting.id, meeting.starts_at, meeting.held_until, -math.inf, math.inf)
                )

    def explains(self, event: Event) -> bool:
        """Whether something could have justified this refusal; of codes other than these three the
        order judges.
        """
        code, acts = event.body.get("code"), self.acts
        if event.operation != "fetch" and not is_known(event):
            return False
        if code == "taken":
            own = own_meetings(acts, event)
            return any(
                span.meets(event, asked.starts_at, asked.held_until, own)
                for asked in wanted(acts, event)
                for span in self.taught[asked.instructor]
            )
        if code == "own-clash":
            own = own_meetings(acts, event) | {event.arguments.get("meeting", 0)}
            return any(
                span.meets(event, asked.starts_at, asked.ends_at, own)
                for asked in wanted(acts, event)
                for span in self.held[asked.student]
            )
        if code == "no-place":
            return self._perhaps_full(event)
        return True

    def _perhaps_full(self, event: Event) -> bool:
        pk, kind = event.arguments.get("meeting", 0), self.acts.kind(event)
        name = "places" if kind == "player" else "listener_places"
        readings = [
            state.meetings[pk]
            for state in (self.acts.before, self.acts.after)
            if pk in state.meetings
        ]
        least = min(
            [getattr(row, name) for row in readings]
            + [sent[name] for sent in self._sent_to(pk) if name in sent],
            default=0,
        )
        spans = self.seats[pk, kind]
        perhaps = sum(span.meets(event, span.starts_at, span.ends_at, ()) for span in spans)
        rows = [*self.acts.before.waiting.values(), *self.acts.after.waiting.values()]
        return perhaps >= least or any((row.meeting, row.place_kind) == (pk, kind) for row in rows)

    def _sent_to(self, meeting: int) -> list[dict[str, int]]:
        return [
            dict(event.arguments)
            for event in self.writes
            if event.operation == "places" and event.arguments["meeting"] == meeting
        ]

    def _add_lost(self, event: Event) -> None:
        """What was acknowledged stood once, even if no row shows it any more."""
        gone = [pk for pk in made_by(event) if pk not in self.acts.after.bookings]
        for instructor, starts_at, ends_at, held_until in self.acts.wanted(event) if gone else ():
            meeting, kind = event.arguments.get("meeting", 0), event.arguments.get("as", "player")
            if not meeting:
                self.taught[instructor].append(
                    _Span(-1, starts_at, held_until, event.called, math.inf)
                )
            self.held[self.acts.student(event)].append(
                _Span(meeting or -1, starts_at, ends_at, event.called, math.inf)
            )
            self.seats[meeting, kind].append(
                _Span(meeting, starts_at, ends_at, event.called, math.inf)
            )

    def _add(self, row: BookingRow) -> None:
        """Its first time until it is surely left or ended, and each time it was moved to."""
        meeting = self.acts.meeting(row.meeting)
        if meeting is None:
            return
        made, changed = self.made.get(row.id), self.about[row.id]
        until = _sure(event for event in changed if event.operation in ("cancel", "decline"))
        left = min(until, _sure(event for event in changed if event.operation in MOVES))
        since = -math.inf if made is None or made.operation == "move" else made.called
        if made is not None and made.operation == "book-slot":
            times = [(time, since, left) for time in self.acts.wanted(made)]
        else:
            instructor = meeting.instructor if meeting.one_on_one else 0
            hold = meeting.held_until - meeting.ends_at
            times = [((instructor, row.starts_at, row.ends_at, row.ends_at + hold), since, left)]
        for event in changed:
            if event.operation in MOVES and "starts_at" in event.arguments:
                moved = (one[1:] for one in wanted(self.acts, event) if one.student == row.student)
                times += [(time, event.called, until) for time in moved]
        for (instructor, starts_at, ends_at, held_until), begun, over in times:
            self.taught[instructor].append(_Span(row.meeting, starts_at, held_until, begun, over))
            self.held[row.student].append(_Span(row.meeting, starts_at, ends_at, begun, over))
            self.seats[row.meeting, row.place_kind].append(
                _Span(row.meeting, starts_at, ends_at, begun, over)
            )


def wanted(acts: Acts, event: Event) -> list[Wanted]:
    """The periods that it asks for, with the student and the instructor of each."""
    if event.operation == "move-pair":
        return pair_wanted(acts, event)
    student = acts.student(event)
    return [Wanted(student, *period) for period in acts.wanted(event)]


def _sure(events: Iterable[Event]) -> float:
    """When the first of these had surely happened."""
    return min(
        (event.returned for event in events if succeeded(event) and event.returned is not None),
        default=math.inf,
    )


def made_by(event: Event) -> list[int]:
    """The bookings that a write made, by its answer; a one-on-one that moves is no new one."""
    if event.operation in ("weekly", "propose"):
        name = "lessons" if event.operation == "weekly" else "times"
        return [row["booking"] for row in event.body.get(name, ())]
    makes = event.operation in ("book-slot", "book-place") or (
        event.operation == "move" and "meeting" in event.arguments
    )
    return [event.body["id"]] if makes and "id" in event.body else []
