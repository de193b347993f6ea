"""Terms that can be chosen, and the weekly places of a student with their lessons."""

from datetime import date, datetime

from django.db.models import Count, Q, QuerySet

from accounts.models import Student
from bookings.domain.policy import cancel_by
from bookings.domain.vocabulary import Standing
from bookings.models import Booking, Term, WeeklyPlace
from bookings.queries.weekly import open_places


def terms_ahead(today: date) -> QuerySet[Term]:
    """Those that have not ended, with their breaks."""
    return Term.objects.filter(last_on__gte=today).prefetch_related("breaks")


def term(term_id: int) -> Term | None:
    return Term.objects.filter(pk=term_id).first()


def places_ahead(student: Student, *, now: datetime) -> list[WeeklyPlace]:
    """The student's places that hold lessons to come, each with their number as `ahead`."""
    ahead = Count(
        "meetings__bookings",
        filter=Q(meetings__bookings__standing=Standing.HELD, meetings__starts_at__gt=now),
    )
    rows = open_places(WeeklyPlace.objects.filter(student=student)).annotate(ahead=ahead)
    return [place for place in rows if place.ahead]


def lessons_left(place: WeeklyPlace, *, now: datetime) -> tuple[list[Booking], list[Booking]]:
    """The lessons to come that end with the place, and those whose cancellation deadline has passed, which stay."""
    rows = Booking.objects.filter(
        meeting__weekly_place=place, standing=Standing.HELD, starts_at__gt=now
    ).select_related("policy")
    ends, stays = list[Booking](), list[Booking]()
    for booking in rows:
        in_time = now <= cancel_by(booking.policy.rules(), booking.starts_at)
        (ends if in_time else stays).append(booking)
    return ends, stays
