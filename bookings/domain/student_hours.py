"""The hours of their own week that a student can come, in the family's words.

Of an hour that nobody speaks of, the curve of domain.burden says what it costs. Until a guardian
has said anything, the hours of a usual school day and of a usual bedtime are presumed for a minor.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from bookings.domain.errors import Refused
from bookings.domain.hours import DAY_MINUTES, WEEKDAYS, WeekFault, faults_of_week
from bookings.domain.policy import is_minor
from bookings.domain.terms import TermDates, in_break
from bookings.domain.vocabulary import Wish
from bookings.domain.wall import clock

Opening = tuple[int, int]  # opens and closes, minutes of the day
USUAL_SCHOOL: Opening = (8 * 60, 15 * 60 + 30)
"""A usual school day, Monday to Friday (common practice)."""
SCHOOL_AGE = 5
"""From this age on a child usually goes to school (common practice)."""
SCHOOL_DAYS = range(5)
_BEDTIMES = ((10, 19 * 60 + 30), (13, 20 * 60 + 30))
_LATEST_BEDTIME = 21 * 60
_OF_AGE = 18


@dataclass(frozen=True, slots=True)
class WishedWindow:
    """Every week on `weekday` (0 = Monday) from `opens` to `closes`, minutes of the day (0-1440) on
    the student's wall clock.
    """

    weekday: int
    opens: int
    closes: int
    wish: Wish


@dataclass(frozen=True, slots=True)
class SaidHours:
    """What a family has said of a student's week.

    `school` are the hours of Monday to Friday that are *never* on the days of a term and outside
    its breaks. `is_presumed` says that no guardian has confirmed or changed the usual hours of a
    minor, so that they count. Dates of `terms` are taken on the student's calendar.
    """

    windows: tuple[WishedWindow, ...] = ()
    school: Opening | None = None
    is_presumed: bool = False
    terms: tuple[TermDates, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether nobody has said anything."""
        return not self.windows and self.school is None

    @property
    def has_never(self) -> bool:
        """Whether any hour is marked “never”."""
        return self.school is not None or any(row.wish is Wish.NEVER for row in self.windows)

    def is_school_day(self, on: date) -> bool:
        """Whether school is usual on that date: Monday to Friday, within a term, in no break."""
        return on.weekday() in SCHOOL_DAYS and any(
            term.first_on <= on <= term.last_on and not in_break(term, on) for term in self.terms
        )


NOTHING_SAID = SaidHours()


@dataclass(frozen=True, slots=True)
class UsualHours:
    """What is presumed of a minor: the hours of school, None before school age, and the bedtime as
    a minute of the day.
    """

    school: Opening | None
    bedtime: int


def usual_hours(adult_on: date | None, on: date) -> UsualHours | None:
    """The usual hours of a student on a date of their calendar; None for an adult.

    Bedtimes are 19:30 under 10, 20:30 under 13, else 21:00 (common practice).
    """
    if adult_on is None or not is_minor(adult_on, on):
        return None
    age = _age(adult_on, on)
    bedtime = next((at for under, at in _BEDTIMES if age < under), _LATEST_BEDTIME)
    return UsualHours(USUAL_SCHOOL if age >= SCHOOL_AGE else None, bedtime)


def shapes_week(said: SaidHours, adult_on: date | None, on: date) -> bool:
    """Whether other hours than those of the curve are hard ones on that date: the family has spoken
    of them, or the usual hours of a minor are presumed.
    """
    return not said.is_empty or (said.is_presumed and usual_hours(adult_on, on) is not None)


def to_confirm(said: SaidHours, usual: UsualHours | None) -> SaidHours:
    """What a guardian is shown to confirm or change: the usual hours where nothing is said."""
    if usual is None or not said.is_empty:
        return said
    evenings = (
        WishedWindow(weekday, usual.bedtime, DAY_MINUTES, Wish.NEVER)
        for weekday in range(len(WEEKDAYS))
    )
    return replace(said, windows=tuple(evenings), school=usual.school)


def _age(adult_on: date, on: date) -> int:
    """In whole years. Somebody comes of age on a birthday."""
    years = _OF_AGE - (adult_on.year - on.year)
    return years if (on.month, on.day) >= (adult_on.month, adult_on.day) else years - 1


def check_said(windows: Sequence[WishedWindow], school: Opening | None) -> None:
    """Refuses hours that cannot be kept, for their first fault.

    Refused: "end-before-start"; "invalid" off the 5-minute grid, outside the day, overlapping, or
    with two words for one hour. `position` is the index of a window; `field` is "school".
    """
    for position, window in enumerate(windows):
        if not 0 <= window.weekday < len(WEEKDAYS):
            raise Refused(
                "invalid", "Choose a weekday from 0 (Monday) to 6 (Sunday).", position=position
            )
    for fault in faults_of_wishes(windows):
        weekday = WEEKDAYS[windows[fault.position].weekday]
        raise Refused(fault.code, f"{weekday} {fault.sentence}", position=fault.position)
    for fault in faults_of_week([(0, *school)] if school else []):
        raise Refused(fault.code, f"School {fault.sentence}", field="school")


def faults_of_wishes(windows: Sequence[WishedWindow]) -> Iterator[WeekFault]:
    """All faults of these windows: those of each word, then hours that have two words."""
    for wish in Wish:
        places = [i for i, window in enumerate(windows) if window.wish is wish]
        rows = [(windows[i].weekday, windows[i].opens, windows[i].closes) for i in places]
        for fault in faults_of_week(rows):
            yield WeekFault(places[fault.position], fault.code, fault.sentence)
    for position, window in enumerate(windows):
        for earlier in windows[:position]:
            if _differ(earlier, window):
                yield WeekFault(
                    position,
                    "invalid",
                    f"{_said(earlier)} and {_said(window)}: choose one word for each hour.",
                )


def _differ(one: WishedWindow, other: WishedWindow) -> bool:
    """Whether the two say different words of one hour."""
    overlap = one.opens < other.closes and other.opens < one.closes
    return overlap and one.weekday == other.weekday and one.wish is not other.wish


def _said(window: WishedWindow) -> str:
    return f"{clock(window.opens)}-{clock(window.closes)} is “{window.wish.words}”"
