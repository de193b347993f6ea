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
    """Where starts may fall: multiples of the step on the instructor's wall clock; a chain with
    that step from a window's start; or one after another, anew after each booked meeting and after
    each rest that the load asks for (see domain.packed). The last has no step.
    """

    CLOCK = "clock"
    WINDOW = "window"
    PACKED = "packed"


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


class PrivacyKind(StrEnum):
    """What a family or an admin may ask for about one person."""

    ERASURE = "erasure"
    ACCESS = "access"


class PrivacyEnded(StrEnum):
    """How such a request ended."""

    TAKEN_BACK = "taken-back"
    DONE = "done"


class Wish(StrEnum):
    """What a family says of an hour of the student's week. Nobody is asked for a reason."""

    GLADLY = "gladly"
    POSSIBLE = "possible"
    LAST = "only-if-nothing-else"
    NEVER = "never"

    @property
    def words(self) -> str:
        """As people read it: "only if nothing else"."""
        return self.value.replace("-", " ")


class Night(StrEnum):
    """What becomes of starts at a hard hour, of burden 8 or more, in a list of slots."""

    INCLUDED = "include"
    LAST = "last"
    LEFT_OUT = "leave-out"


class Attendance(StrEnum):
    """What happened, in the words of the trade's registers."""

    PRESENT = "PRESENT"
    LATE = "LATE"
    ABSENT_WITH_NOTICE = "ABSENT_WITH_NOTICE"
    ABSENT_WITHOUT_NOTICE = "ABSENT_WITHOUT_NOTICE"
    INSTRUCTOR_ABSENT = "INSTRUCTOR_ABSENT"


CAME = (Attendance.PRESENT, Attendance.LATE)
MISSED = (
    Attendance.ABSENT_WITH_NOTICE,
    Attendance.ABSENT_WITHOUT_NOTICE,
    Attendance.INSTRUCTOR_ABSENT,
)
"""What the register says of a lesson in which the student was not seen."""


class OwedCause(StrEnum):
    """Why the school owes a lesson."""

    CANCELLED_IN_TIME = "cancelled-in-time"
    ABSENT_WITH_NOTICE = "absent-with-notice"
    CALLED_OFF = "called-off"
    INSTRUCTOR_ABSENT = "instructor-absent"
    DECLINED = "declined"
    PLACE_CHANGED = "place-changed"
    CARRIED_IN = "carried-in"

    @property
    def is_the_familys(self) -> bool:
        """Whether the studio policy limits how many lessons a term may be owed for this."""
        return self in (OwedCause.CANCELLED_IN_TIME, OwedCause.ABSENT_WITH_NOTICE)


class OwedClosed(StrEnum):
    """How an owed lesson ended without a make-up."""

    LAPSED = "lapsed"
    BY_HAND = "by-hand"
    CARRIED_OUT = "carried-out"


class LessonOutcome(StrEnum):
    """What became of a lesson, as the account of a term counts it."""

    GIVEN = "given"
    FORFEITED = "forfeited"
    LAPSED = "lapsed"
    OWED = "owed"
    TO_COME = "to-come"
    UNMARKED = "unmarked"
    CARRIED_OUT = "carried-out"
    NOTHING = "nothing"


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


class PlanKind(StrEnum):
    """What the school decides jointly."""

    TIMETABLE = "timetable"
    GROUP = "group"
    COVER = "cover"
    WHO_NEXT = "who-next"
    EXCHANGE = "exchange"


class PlanState(StrEnum):
    """Where a plan stands. READY has its answer, STOPPED the best that was found in time."""

    SOLVING = "SOLVING"
    READY = "READY"
    STOPPED = "STOPPED"
    ADOPTED = "ADOPTED"
    DISCARDED = "DISCARDED"
    FAILED = "FAILED"
