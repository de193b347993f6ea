"""Weekly hours of the demo school: how they are written, and what families say of theirs."""

from dataclasses import dataclass
from datetime import datetime

from accounts.models import Student, User
from bookings.demo import people
from bookings.demo.people import Adult, Child
from bookings.domain.hours import WEEKDAYS
from bookings.domain.student_hours import Opening, WishedWindow
from bookings.domain.vocabulary import Wish
from bookings.operations.student_hours import say_hours


@dataclass(frozen=True, slots=True)
class SaidWeek:
    """What a family says: hours such as "Mon 17:00-20:00" by word, and from when to when school is.
    Nothing is said of all the other hours.
    """

    student: Adult | Child
    hours: dict[Wish, tuple[str, ...]]
    school: Opening | None = None

    def say(self, actor: User, student: Student, now: datetime) -> None:
        """Says it, for the student or as their guardian."""
        windows = [
            WishedWindow(*window_of(text), wish)
            for wish, texts in self.hours.items()
            for text in texts
        ]
        say_hours(actor=actor, student=student, windows=windows, school=self.school, now=now)


_WEEKDAYS = tuple(name[:3] for name in WEEKDAYS)
SAID = (
    SaidWeek(
        people.IMOGEN,
        {
            Wish.GLADLY: ("Mon 18:00-20:30", "Wed 18:00-20:30", "Thu 18:00-20:30"),
            Wish.POSSIBLE: ("Fri 12:00-14:00",),
            Wish.LAST: ("Tue 18:00-22:00", "Sun 09:00-18:00"),
            Wish.NEVER: tuple(f"{day} 09:00-12:00" for day in _WEEKDAYS[:5]),
        },
    ),
    SaidWeek(
        people.POSY,
        {
            Wish.GLADLY: ("Sat 09:00-12:00",),
            Wish.NEVER: tuple(f"{day} 20:30-24:00" for day in _WEEKDAYS),
        },
        school=(9 * 60, 15 * 60),
    ),
)
"""Nobody has said anything for Lark and Kit: the usual hours of school and bedtime count."""


def window_of(text: str) -> tuple[int, int, int]:
    """The weekday, 0 is Monday, and the minutes of "Mon 15:30-20:30"."""
    weekday, span = text.split()
    opens, closes = (int(clock[:2]) * 60 + int(clock[3:]) for clock in span.split("-"))
    return _WEEKDAYS.index(weekday), opens, closes
