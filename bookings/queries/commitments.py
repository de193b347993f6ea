"""What students have ahead. It is shown before they leave, and ends when they do."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from bookings.models import LIVE, Booking, WaitingPlace, WeeklyPlace


@dataclass(frozen=True, slots=True)
class Ahead:
    """What students have ahead.

    Bookings held or offered, by start; waiting places without an offer; weekly places that go on.
    """

    bookings: list[Booking]
    waiting: list[WaitingPlace]
    weekly: list[WeeklyPlace]

    def __bool__(self) -> bool:
        return bool(self.bookings or self.waiting or self.weekly)

    @property
    def meetings(self) -> set[int]:
        """The ids of all their meetings."""
        return {
            *(booking.meeting_id for booking in self.bookings),
            *(waiting.meeting_id for waiting in self.waiting),
        }

    @property
    def instructors(self) -> set[int]:
        """The ids of all instructors who teach them."""
        return {
            *(booking.meeting.instructor_id for booking in self.bookings),
            *(waiting.meeting.instructor_id for waiting in self.waiting),
            *(place.instructor_id for place in self.weekly),
        }


def ahead_of(students: Collection[int], *, now: datetime) -> Ahead:
    """The bookings and places that the students with these ids have ahead.

    Three queries.
    """
    bookings = Booking.objects.live().ahead(now).filter(student__in=students)
    waiting = WaitingPlace.objects.waiting().filter(
        student__in=students, meeting__starts_at__gt=now
    )
    weekly = WeeklyPlace.objects.not_ended().filter(student__in=students)
    meeting = ("student__user", "meeting__offering", "meeting__instructor__user")
    lasting = weekly.filter(term__last_on__gte=now.date())
    return Ahead(
        list(bookings.select_related("policy", *meeting).order_by("starts_at", "pk")),
        list(
            waiting.exclude(offer__standing__in=LIVE)
            .select_related(*meeting)
            .order_by("meeting__starts_at", "pk")
        ),
        list(
            lasting.select_related(
                "term", "student__user", "instructor__user", "offering"
            ).order_by("weekday", "wall_at", "pk")
        ),
    )
