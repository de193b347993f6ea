"""The statement of hours: which meetings of an instructor have a line, and which count.

A line counts the booked minutes or none of them (an orchestra's time sheet pays booked minutes
only, TRADE.md 1.10). Cancelled late and missed without notice count: the time was kept, and nothing
is owed for it. Called off, and an instructor who was not there, never count. A lesson missed with
notice is owed, and counts once it is made up. A lesson cancelled in time was given back and has no
line. Lines hold ids and words, never a name, so that they outlast the people in them.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import StrEnum
from itertools import accumulate

from bookings.domain.vocabulary import CAME, Attendance, Ended, Kind, Standing


class MeetingOutcome(StrEnum):
    """What became of a meeting, as a statement says it."""

    TAUGHT = "taught"
    MISSED = "missed"
    MISSED_WITH_NOTICE = "missed-with-notice"
    CANCELLED_LATE = "cancelled-late"
    CALLED_OFF = "called-off"
    INSTRUCTOR_ABSENT = "instructor-absent"
    NOBODY_BOOKED = "nobody-booked"
    REGISTER_OPEN = "register-open"


COUNTS = frozenset({MeetingOutcome.TAUGHT, MeetingOutcome.MISSED, MeetingOutcome.CANCELLED_LATE})

SAID: Mapping[MeetingOutcome, str] = {
    MeetingOutcome.TAUGHT: "taught",
    MeetingOutcome.MISSED: "missed without notice",
    MeetingOutcome.MISSED_WITH_NOTICE: "missed with notice",
    MeetingOutcome.CANCELLED_LATE: "cancelled after the deadline",
    MeetingOutcome.CALLED_OFF: "called off",
    MeetingOutcome.INSTRUCTOR_ABSENT: "the instructor was absent",
    MeetingOutcome.NOBODY_BOOKED: "nobody had a place",
    MeetingOutcome.REGISTER_OPEN: "the register is open",
}
"""What happened, as people read it."""
WHY: Mapping[MeetingOutcome, str] = {
    MeetingOutcome.TAUGHT: "It was taught.",
    MeetingOutcome.MISSED: "The time was kept.",
    MeetingOutcome.MISSED_WITH_NOTICE: "Notice was given. A make-up lesson has a line of its own.",
    MeetingOutcome.CANCELLED_LATE: "The time was kept.",
    MeetingOutcome.CALLED_OFF: "It did not take place.",
    MeetingOutcome.INSTRUCTOR_ABSENT: "It was not taught.",
    MeetingOutcome.NOBODY_BOOKED: "No minutes were booked.",
    MeetingOutcome.REGISTER_OPEN: "Nobody has said yet what happened.",
}
"""Why it counts or does not."""


@dataclass(frozen=True, slots=True)
class PlaceFacts:
    """One place: its standing, why it ended if it did, and its mark in the register if it has one.

    Offers and proposed times are no places here.
    """

    standing: Standing
    ended_why: Ended | None = None
    attendance: Attendance | None = None


@dataclass(frozen=True, slots=True)
class MeetingFacts:
    """A meeting that somebody has agreed to; `wall_on` is its date on the clock of `time_zone`."""

    meeting_id: int
    starts_at: datetime
    wall_on: date
    time_zone: str
    kind: Kind
    minutes: int
    is_cancelled: bool
    places: tuple[PlaceFacts, ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """One line. `counted_minutes` are the booked minutes or 0, below 0 on a counter-line."""

    meeting_id: int
    starts_at: datetime
    wall_on: date
    time_zone: str
    kind: Kind
    booked_minutes: int
    outcome: MeetingOutcome
    counted_minutes: int
    is_counter: bool = False

    @property
    def counts(self) -> bool:
        """Whether the meeting counts, by this line."""
        return self.outcome in COUNTS

    @property
    def kind_said(self) -> str:
        """The kind of meeting, in words: "private lesson"."""
        return self.kind.value.replace("-", " ")

    @property
    def said(self) -> str:
        """What happened, in words."""
        return SAID[self.outcome]

    @property
    def why(self) -> str:
        """Why it counts or does not, in a sentence."""
        return WHY[self.outcome]

    def countered(self) -> "Line":
        """The line that takes this one back."""
        return replace(self, counted_minutes=-self.counted_minutes, is_counter=True)


def outcome_of(meeting: MeetingFacts) -> MeetingOutcome | None:
    """What became of the meeting; None for one that has no line.

    A group is one meeting: taught as soon as one person came.
    """
    if meeting.is_cancelled:
        return _outcome_of_cancelled(meeting)
    held = [place for place in meeting.places if place.standing is Standing.HELD]
    if not held:
        return _outcome_of_empty(meeting)
    marks = {place.attendance for place in held}
    if None in marks:
        return MeetingOutcome.REGISTER_OPEN
    if marks & set(CAME):
        return MeetingOutcome.TAUGHT
    if Attendance.INSTRUCTOR_ABSENT in marks:
        return MeetingOutcome.INSTRUCTOR_ABSENT
    if Attendance.ABSENT_WITHOUT_NOTICE in marks:
        return MeetingOutcome.MISSED
    return MeetingOutcome.MISSED_WITH_NOTICE


def _outcome_of_cancelled(meeting: MeetingFacts) -> MeetingOutcome | None:
    """A one-on-one ends with its student's booking; a group is only ever called off."""
    reasons = {place.ended_why for place in meeting.places}
    if Ended.CALLED_OFF in reasons or not meeting.kind.is_one_on_one:
        return MeetingOutcome.CALLED_OFF
    return MeetingOutcome.CANCELLED_LATE if Ended.CANCELLED_LATE in reasons else None


def _outcome_of_empty(meeting: MeetingFacts) -> MeetingOutcome:
    """A meeting that took its time without anybody in it."""
    is_late = any(place.ended_why is Ended.CANCELLED_LATE for place in meeting.places)
    return MeetingOutcome.CANCELLED_LATE if is_late else MeetingOutcome.NOBODY_BOOKED


def reckon(meetings: Iterable[MeetingFacts]) -> list[Line]:
    """The lines of these meetings by start: one each, none for those cancelled in time."""
    found = []
    for meeting in sorted(meetings, key=lambda one: (one.starts_at, one.meeting_id)):
        outcome = outcome_of(meeting)
        if outcome is None:
            continue
        found.append(
            Line(
                meeting_id=meeting.meeting_id,
                starts_at=meeting.starts_at,
                wall_on=meeting.wall_on,
                time_zone=meeting.time_zone,
                kind=meeting.kind,
                booked_minutes=meeting.minutes,
                outcome=outcome,
                counted_minutes=meeting.minutes if outcome in COUNTS else 0,
            )
        )
    return found


def total_of(lines: Iterable[Line]) -> int:
    """The minutes that count."""
    return sum(line.counted_minutes for line in lines)


def running_totals(lines: Iterable[Line], *, before: int = 0) -> list[int]:
    """The minutes that count up to and with each line, after `before` minutes."""
    return list(accumulate((line.counted_minutes for line in lines), initial=before))[1:]
