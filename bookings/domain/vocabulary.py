"""The words of the trade as closed sets. The database stores each value, and the API says it."""

from enum import StrEnum


class Kind(StrEnum):
    """The four kinds of offering."""

    CONSULTATION = "consultation"
    PRIVATE_LESSON = "private-lesson"
    GROUP_MEETING = "group-meeting"
    MASTERCLASS = "masterclass"

    @property
    def is_one_on_one(self) -> bool:
        """Whether a meeting of this kind has one place and is made by booking a slot."""
        return self in (Kind.CONSULTATION, Kind.PRIVATE_LESSON)


class Grid(StrEnum):
    """Where starts may fall: multiples of the step on the instructor's wall clock, or a chain
    packed from a window's start.
    """

    CLOCK = "clock"
    WINDOW = "window"


class MeetingStatus(StrEnum):
    """RFC 5545 section 3.8.1.11, for VEVENT."""

    TENTATIVE = "TENTATIVE"
    CONFIRMED = "CONFIRMED"
    CANCELLED = "CANCELLED"


class PartStat(StrEnum):
    """What a calendar replied: RFC 5545 section 3.2.12, for VEVENT."""

    NEEDS_ACTION = "NEEDS-ACTION"
    ACCEPTED = "ACCEPTED"
    DECLINED = "DECLINED"
    TENTATIVE = "TENTATIVE"


class Standing(StrEnum):
    """Where a booking stands. HELD and OFFERED are live; ENDED says when and why."""

    HELD = "HELD"
    OFFERED = "OFFERED"
    ENDED = "ENDED"


class PlaceKind(StrEnum):
    """Players and listeners of a masterclass; every other meeting has player places only."""

    PLAYER = "player"
    LISTENER = "listener"


class FeedKind(StrEnum):
    """What a calendar address shows: the owner's meetings, the places taken in one meeting, or an
    instructor's taken times.
    """

    MEETINGS = "meetings"
    ROSTER = "roster"
    FREE_BUSY = "free-busy"


class Ended(StrEnum):
    """Why a booking or a waiting place ended."""

    CANCELLED_IN_TIME = "cancelled-in-time"
    CANCELLED_LATE = "cancelled-late"
    CALLED_OFF = "called-off"
    MOVED = "moved"
    REMOVED = "removed"
    DECLINED = "declined"
    LAPSED = "lapsed"
    LEFT = "left"
    PLACED = "placed"
    NOT_CHOSEN = "not-chosen"


class Attendance(StrEnum):
    """What happened, in the words of the trade's registers."""

    PRESENT = "PRESENT"
    LATE = "LATE"
    ABSENT_WITH_NOTICE = "ABSENT_WITH_NOTICE"
    ABSENT_WITHOUT_NOTICE = "ABSENT_WITHOUT_NOTICE"
    INSTRUCTOR_ABSENT = "INSTRUCTOR_ABSENT"


MISSED = (
    Attendance.ABSENT_WITH_NOTICE,
    Attendance.ABSENT_WITHOUT_NOTICE,
    Attendance.INSTRUCTOR_ABSENT,
)
"""What the register says of a lesson in which the student was not seen."""


class NoteState(StrEnum):
    """An assessment is a draft until it is released.

    A released one never changes; a new version follows it.
    """

    DRAFT = "draft"
    RELEASED = "released"


class NoteForm(StrEnum):
    """A full assessment, or the light note of a private lesson."""

    ASSESSMENT = "assessment"
    LESSON_NOTE = "lesson-note"


class GoalOutcome(StrEnum):
    """What became of the goal of the note before."""

    MET = "met"
    PARTLY = "partly"
    NOT_YET = "not-yet"
