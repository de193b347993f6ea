"""Terms that can be chosen, and the weekly places of a student with their lessons."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, F, OuterRef, Prefetch, Q, QuerySet, Subquery

from accounts.models import Student, User
from bookings.access import weekly_places_of
from bookings.domain.policy import cancel_by
from bookings.domain.terms import TermDates
from bookings.domain.vocabulary import Standing
from bookings.models import Booking, ExchangeMove, Term, TermBreak, WeeklyPlace, WeeklyPlaceQuerySet


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


@dataclass(frozen=True, slots=True)
class TermAhead:
    """A term that has not ended, with its breaks."""

    term: Term
    breaks: list[TermBreak]

    @property
    def dates(self) -> TermDates:
        """The same dates for domain/."""
        breaks = tuple((row.first_on, row.last_on) for row in self.breaks)
        return TermDates(self.term.first_on, self.term.last_on, breaks)


def terms_ahead(today: date) -> dict[int, TermAhead]:
    """Terms that have not ended, by id, in the order of their first days: one query."""
    rows = Term.objects.filter(last_on__gte=today).annotate(
        break_name=F("breaks__name"),
        break_first_on=F("breaks__first_on"),
        break_last_on=F("breaks__last_on"),
    )
    found: dict[int, TermAhead] = {}
    for row in rows.order_by("first_on", "name", "breaks__first_on", "breaks"):
        ahead = found.setdefault(row.pk, TermAhead(row, []))
        if row.break_first_on is not None:
            days = {"first_on": row.break_first_on, "last_on": row.break_last_on}
            ahead.breaks.append(TermBreak(term=ahead.term, name=row.break_name, **days))
    return found


def term(term_id: int) -> Term | None:
    return Term.objects.filter(pk=term_id).first()


def places_ahead(student: Student, *, now: datetime) -> list[WeeklyPlace]:
    """The student's places with lessons ahead; `ahead` is their number.

    `asked` is the id of a question about an exchange that can still be answered; None without one.
    """
    ahead = Count(
        "meetings__bookings",
        filter=Q(meetings__bookings__standing=Standing.HELD, meetings__starts_at__gt=now),
    )
    rows = open_places(WeeklyPlace.objects.filter(student=student)).annotate(
        ahead=ahead, asked=open_question(OuterRef("pk"), now=now)
    )
    return [place for place in rows if place.ahead]


def open_question(place: OuterRef, *, now: datetime) -> Subquery:
    """The id of the question about an exchange of that place that can still be answered, inside
    another query; None without one.
    """
    asked = ExchangeMove.objects.filter(
        place=place, exchange__ended_at__isnull=True, exchange__answer_by__gt=now
    )
    return Subquery(asked.order_by("pk").values("pk")[:1])


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
