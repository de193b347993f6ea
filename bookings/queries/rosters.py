"""Meetings with the people in them, for those who run them."""

from datetime import datetime

from django.db.models import Prefetch, Q, QuerySet

from accounts.models import Instructor, User
from bookings.access import students_named
from bookings.domain.vocabulary import PlaceKind
from bookings.domain.zones import zone
from bookings.models import Booking, Meeting, RegisterEntry
from bookings.queries.waiting import line, ranked, waiting_in


def run_by(
    user: User,
    *,
    past: bool,
    words: str = "",
    instructor: Instructor | None = None,
    now: datetime,
) -> QuerySet[Meeting]:
    """The meetings somebody runs, an admin all of them, each with its live bookings as `live`.

    From the beginning of today on their clock by start; or those before, the latest first. Where
    they are given, those of one instructor, and those whose title or offering holds the words or
    in which a student whom they find has a place.
    """
    local = now.astimezone(zone(user.zone))
    today = local.replace(hour=0, minute=0, second=0, microsecond=0)
    rows = Meeting.objects.not_proposed()
    if not user.is_staff:
        rows = rows.filter(instructor__user=user, instructor__is_active=True)
    if instructor is not None:
        rows = rows.filter(instructor=instructor)
    if words:
        booked = Booking.objects.live().filter(student__in=students_named(user, words, now=now))
        is_named = Q(title__icontains=words) | Q(offering__name__icontains=words)
        rows = rows.filter(is_named | Q(pk__in=booked.order_by().values("meeting")))
    if past:
        return with_people(rows.filter(ends_at__lte=today).order_by("-starts_at", "-id"))
    return with_people(rows.filter(ends_at__gt=today))


def with_people(
    rows: QuerySet[Meeting], live: QuerySet[Booking] | None = None
) -> QuerySet[Meeting]:
    """The same meetings, each with its live bookings as `live`, in order of booking."""
    return rows.select_related("offering", "instructor__user").prefetch_related(
        Prefetch("bookings", queryset=_live() if live is None else live, to_attr="live")
    )


def _live() -> QuerySet[Booking]:
    rows = Booking.objects.live().select_related("student__user", "mark")
    return rows.order_by("booked_at", "id")


def with_entries(rows: QuerySet[Booking]) -> QuerySet[Booking]:
    """The same bookings with their entries in the register, the first one first: one query more."""
    entries = RegisterEntry.objects.select_related("entered_by")
    return rows.prefetch_related(Prefetch("entries", queryset=entries))


def roster_of(meeting: Meeting) -> Meeting:
    """One meeting with its live bookings as `live`, their entries in the register joined, and those
    who wait as `queue`, ranked.
    """
    found = with_people(Meeting.objects.filter(pk=meeting.pk), with_entries(_live())).get()
    found.queue = list(ranked(waiting_in([found])))  # type: ignore[attr-defined]
    return found


def count_applied(meeting: Meeting) -> int:
    """How many have applied for a player place, or wait for one, without an offer."""
    return line(meeting, PlaceKind.PLAYER).count()
