"""Waiting lists, and whether a free place is offered in turn or open to the first yes."""

from collections.abc import Collection
from datetime import datetime

from django.db.models import Case, Count, Exists, OuterRef, Q, QuerySet, Subquery, Value, When
from django.db.models.functions import Coalesce, Concat

from accounts.models import Student
from bookings.domain.policy import is_first_yes
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Meeting, OutboxMessage, WaitingPlace
from bookings.outbox import MessageKind


def line(meeting: Meeting, place_kind: PlaceKind) -> QuerySet[WaitingPlace]:
    """The waiting places without an offer, first in line first."""
    return waiting_in([meeting]).filter(place_kind=place_kind)


def waiting_in(meetings: Collection[Meeting]) -> QuerySet[WaitingPlace]:
    """The waiting places without an offer in these meetings, for players and listeners."""
    rows = WaitingPlace.objects.for_meetings(meetings).waiting().without_offer()
    return rows.select_related("student__user").order_by("joined_at", "id")


def waiting_list_of(meeting: Meeting) -> QuerySet[WaitingPlace]:
    """The waiting places of one meeting without an offer, each with its rank."""
    return ranked(waiting_in([meeting]))


def ranked(rows: QuerySet[WaitingPlace]) -> QuerySet[WaitingPlace]:
    """`rows` with the `rank` in their line: 1 for the first of those without an offer.

    A place with an offer has no rank.
    """
    ahead = (
        WaitingPlace.objects.waiting()
        .without_offer()
        .filter(
            Q(joined_at__lt=OuterRef("joined_at"))
            | Q(joined_at=OuterRef("joined_at"), pk__lt=OuterRef("pk")),
            meeting=OuterRef("meeting"),
            place_kind=OuterRef("place_kind"),
        )
    )
    count = ahead.order_by().values("meeting").annotate(count=Count("pk")).values("count")
    rank = Case(When(offer__isnull=True, then=Coalesce(Subquery(count), 0) + 1))
    return rows.annotate(rank=rank)  # type: ignore[no-redef]  # the model declares it


def ranked_place(waiting_place_id: int) -> WaitingPlace:
    """One place on a waiting list with its rank."""
    return ranked(WaitingPlace.objects.filter(pk=waiting_place_id)).get()


def waiting_of(students: Collection[Student], *, now: datetime) -> QuerySet[WaitingPlace]:
    """These students' waiting places without an offer in meetings ahead, with their rank.

    In order of joining.
    """
    waiting = WaitingPlace.objects.waiting().without_offer()
    rows = waiting.filter(student__in=students, meeting__starts_at__gt=now)
    return ranked(rows.select_related("student__user", "meeting__offering")).order_by(
        "joined_at", "id"
    )


def is_anybodys(meeting: Meeting, place_kind: PlaceKind, *, now: datetime) -> bool:
    """Whether a free place goes to the first yes.

    It does if nobody waits, if the start is too near for an offer, or if all who wait have been
    told so. The answer depends on those who wait and never on who asks. Once they have been told,
    it holds until the place is taken.
    """
    waiting = list(with_told(line(meeting, place_kind)))
    if not waiting or is_first_yes(now, meeting.starts_at, [one.student.zone for one in waiting]):
        return True
    return waiting[0].was_told


def with_told(rows: QuerySet[WaitingPlace]) -> QuerySet[WaitingPlace]:
    """`rows`, each with `was_told`: whether its line was told that the first yes has it."""
    about = Concat(Value("free:"), OuterRef("place_kind"), Value(":"))
    told = OutboxMessage.objects.filter(
        kind=MessageKind.PLACE_FREE, meeting=OuterRef("meeting"), state_key__startswith=about
    )
    return rows.annotate(was_told=Exists(told))  # type: ignore[no-redef]  # the model declares it
