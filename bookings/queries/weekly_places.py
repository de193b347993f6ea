"""Terms that can be chosen, and the weekly places of a student with their lessons."""

from datetime import date, datetime

from django.db.models import Count, Prefetch, Q, QuerySet

from accounts.models import Student, User
from bookings.access import weekly_places_of
from bookings.domain.policy import cancel_by
from bookings.domain.vocabulary import Standing
from bookings.models import Booking, Term, WeeklyPlace, WeeklyPlaceQuerySet


def weekly_places_with_dates(user: User, *, now: datetime) -> QuerySet[WeeklyPlace]:
    """The weekly places that the user may see, with their meetings and bookings by date."""
    dated = Booking.objects.select_related("meeting").order_by("starts_at")
    bookings = dated.filter(meeting__weekly_place__isnull=False)
    return weekly_places_of(user, now=now).prefetch_related(
        "meetings", Prefetch("meetings__bookings", bookings)
    )


def open_places(places: WeeklyPlaceQuerySet) -> QuerySet[WeeklyPlace]:
    """The places that go on, with all that judging them needs."""
    needed = ("term", "student__user", "instructor__user", "offering", "policy")
    return places.not_ended().select_related(*needed)


def terms_ahead(today: date) -> QuerySet[Term]:
    """Terms that have not ended, with their breaks."""
    return Term.objects.filter(last_on__gte=today).prefetch_related("breaks")


def term(term_id: int) -> Term | None:
    return Term.objects.filter(pk=term_id).first()


def places_ahead(student: Student, *, now: datetime) -> list[WeeklyPlace]:
    """The student's places with lessons ahead; `ahead` is their number."""
    ahead = Count(
        "meetings__bookings",
        filter=Q(meetings__bookings__standing=Standing.HELD, meetings__starts_at__gt=now),
    )
    rows = open_places(WeeklyPlace.objects.filter(student=student)).annotate(ahead=ahead)
    return [place for place in rows if place.ahead]


def lessons_left(place: WeeklyPlace, *, now: datetime) -> tuple[list[Booking], list[Booking]]:
    """The lessons ahead that end with the place, and those that stay.

    Those whose cancellation deadline has passed stay.
    """
    held = Booking.objects.held().ahead(now)
    rows = held.filter(meeting__weekly_place=place).select_related("policy")
    ends, stays = list[Booking](), list[Booking]()
    for booking in rows:
        in_time = now <= cancel_by(booking.policy.rules(), booking.starts_at)
        (ends if in_time else stays).append(booking)
    return ends, stays
