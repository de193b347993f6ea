"""What a lesson leaves behind once it has ended or is marked: given, owed, forfeited or nothing.

A promised lesson is one of a weekly place. It is a chain: its booking, what is owed for it, the
make-up lesson, what is owed for that. The last link says what became of the promise, so each is
counted once. A single lesson is promised by nobody: one that its family cancels in time is not
charged, and that is all. What the school calls off or misses is always owed (published policies of
schools and an association: "made up, carried or refunded", TRADE.md 1.8).
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings.domain.errors import Refused
from bookings.domain.local_days import midnight
from bookings.domain.policy import Policy
from bookings.domain.vocabulary import CAME, Attendance, Ended, LessonOutcome, OwedCause
from bookings.domain.zones import zone

REMINDED_BEFORE = timedelta(days=14)

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_RANKS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")


@dataclass(frozen=True, slots=True)
class LessonEnd:
    """How one one-on-one stands: `ended` where its booking has, `attendance` where it is marked.

    `is_promised` of a lesson of a weekly place; a make-up lesson is not one, whatever it makes up.
    """

    ends_at: datetime
    ended: Ended | None = None
    attendance: Attendance | None = None
    is_promised: bool = False
    is_make_up: bool = False


@dataclass(frozen=True, slots=True)
class Left:
    """What a lesson leaves, why in words, and the cause where the school owes it."""

    outcome: LessonOutcome
    why: str
    cause: OwedCause | None = None


_NOT_CHARGED = Left(LessonOutcome.NOTHING, "cancelled in time, so it is not charged")
_OVER = Left(LessonOutcome.NOTHING, "given up, so it is not promised any more")


def left_by(lesson: LessonEnd, *, is_limit_used: bool, now: datetime) -> Left:
    """What this lesson leaves. `is_limit_used` says that the family has had all the lessons that it
    may make up in the term; the school's own causes have no limit.
    """
    if lesson.ended is not None:
        return _left_by_end(lesson, lesson.ended, is_limit_used)
    if lesson.attendance is not None:
        return _left_by_mark(lesson, lesson.attendance, is_limit_used)
    if now < lesson.ends_at:
        return Left(LessonOutcome.TO_COME, "to come")
    return Left(LessonOutcome.UNMARKED, "the register is not marked yet")


def _left_by_end(lesson: LessonEnd, ended: Ended, is_limit_used: bool) -> Left:
    match ended:
        case Ended.CANCELLED_IN_TIME if lesson.is_make_up:
            return _owed(OwedCause.CANCELLED_IN_TIME)
        case Ended.CANCELLED_IN_TIME if lesson.is_promised:
            return _familys(OwedCause.CANCELLED_IN_TIME, is_limit_used)
        case Ended.CANCELLED_IN_TIME:
            return _NOT_CHARGED
        case Ended.CANCELLED_LATE:
            return Left(LessonOutcome.FORFEITED, "cancelled after the deadline")
        case Ended.CALLED_OFF:
            return _owed(OwedCause.CALLED_OFF)
        case Ended.DECLINED if lesson.is_promised or lesson.is_make_up:
            return _owed(OwedCause.DECLINED)
        case Ended.DECLINED:
            return Left(LessonOutcome.NOTHING, "declined, so it is not charged")
        case _:
            return _OVER


def _left_by_mark(lesson: LessonEnd, attendance: Attendance, is_limit_used: bool) -> Left:
    if attendance in CAME:
        return Left(LessonOutcome.GIVEN, "taught")
    match attendance:
        case Attendance.INSTRUCTOR_ABSENT:
            return _owed(OwedCause.INSTRUCTOR_ABSENT)
        case Attendance.ABSENT_WITHOUT_NOTICE:
            return Left(LessonOutcome.FORFEITED, "missed without notice")
        # A missed make-up is not made up (a studio's published policy, TRADE.md 1.8).
        case _ if lesson.is_make_up:
            return Left(LessonOutcome.FORFEITED, "a make-up lesson that was missed")
        case _ if lesson.is_promised:
            return _familys(OwedCause.ABSENT_WITH_NOTICE, is_limit_used)
        case _:
            return Left(LessonOutcome.NOTHING, "missed with notice, so it is not charged")


CAUSES = {
    OwedCause.CANCELLED_IN_TIME: "cancelled in time",
    OwedCause.ABSENT_WITH_NOTICE: "missed with notice",
    OwedCause.CALLED_OFF: "called off by the school",
    OwedCause.INSTRUCTOR_ABSENT: "the instructor was absent",
    OwedCause.DECLINED: "declined: the school had changed the time or the instructor",
    OwedCause.PLACE_CHANGED: "the new weekly place has no date for it",
    OwedCause.CARRIED_IN: "carried in by the school",
}
"""Why a lesson is owed, as a family reads it."""


def _owed(cause: OwedCause) -> Left:
    return Left(LessonOutcome.OWED, CAUSES[cause], cause)


def _familys(cause: OwedCause, is_limit_used: bool) -> Left:
    if is_limit_used:
        why = f"{CAUSES[cause]}, after all the lessons that may be made up this term"
        return Left(LessonOutcome.FORFEITED, why)
    return _owed(cause)


def use_by_of(starts_at: datetime, time_zone: str, policy: Policy) -> date:
    """The last date for the make-up of a lesson that started, or would have, at `starts_at`.

    Days count from the lesson's date on the student's clock (90 days: an association's standard
    terms, TRADE.md 1.8).
    """
    return use_by_after(starts_at.astimezone(zone(time_zone)).date(), policy)


def use_by_after(on: date, policy: Policy) -> date:
    """The last date for the make-up of a lesson of this date."""
    return on + timedelta(days=policy.make_up_use_by_days)


def used_until(use_by: date, time_zone: str) -> datetime:
    """The end of the use-by date on the student's clock, UTC: a make-up begins before it."""
    return midnight(use_by + timedelta(days=1), time_zone)


def check_use_by(starts_at: datetime, use_by: date, time_zone: str) -> None:
    """Refused("use-by-passed") for a make-up that begins after the date, on the student's clock."""
    if starts_at.astimezone(zone(time_zone)).date() > use_by:
        raise Refused(
            "use-by-passed",
            f"This make-up lesson has to begin by {date_in_words(use_by)}: choose an earlier time, "
            "or ask the school for more time.",
            use_by=use_by.isoformat(),
        )


def reminder_on(use_by: date) -> date:
    """From which date, on the student's clock, the family is reminded of an owed lesson.

    Two weeks before its use-by date: one weekly round to choose a time, and one in reserve.
    """
    return use_by - REMINDED_BEFORE


def date_in_words(on: date) -> str:
    """A use-by date in a sentence: "12 June 2027"."""
    return f"{on.day} {on:%B %Y}"


def limit_rule(policy: Policy) -> str:
    """The limit where nobody has counted yet, such as in an email that is written ahead."""
    allowed = policy.make_ups_a_term
    if allowed == 0:
        return "Lessons that you cancel are not made up."
    lessons = "lesson" if allowed == 1 else "lessons"
    return f"You may make up {_number(allowed)} {lessons} a term that you cancel in time."


def limit_in_words(used: int, policy: Policy) -> str:
    """What the family reads before it cancels a promised lesson: "the second of two you may make up
    this term". `used` is how many have counted before this one.
    """
    allowed = policy.make_ups_a_term
    if used >= allowed:
        if allowed == 0:
            return "Lessons that you cancel are not made up."
        return (
            f"You have used the {_number(allowed)} you may make up this term, "
            "so this lesson will not be made up."
        )
    if allowed == 1:
        return "It is the only lesson you may make up this term."
    return f"It is the {_rank(used + 1)} of {_number(allowed)} you may make up this term."


def _number(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def _rank(count: int) -> str:
    return _RANKS[count - 1] if count <= len(_RANKS) else f"number {count}"
