"""Waiting lists, and whether a free place is offered in turn or open to the first yes."""

from collections.abc import Collection
from datetime import datetime

from django.db.models import Case, Count, OuterRef, Q, QuerySet, Subquery, When
from django.db.models.functions import Coalesce

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
    rows = WaitingPlace.objects.filter(
        meeting__in=meetings, ended_at__isnull=True, offer__isnull=True
    )
    return rows.select_related("student__user").order_by("joined_at", "id")


def ranked(rows: QuerySet[WaitingPlace]) -> QuerySet[WaitingPlace]:
    """`rows` with the `rank` in their line: 1 for the first of those without an offer, null for a
    place with one.
    """
    ahead = WaitingPlace.objects.filter(
        Q(joined_at__lt=OuterRef("joined_at"))
        | Q(joined_at=OuterRef("joined_at"), pk__lt=OuterRef("pk")),
        meeting=OuterRef("meeting"),
        place_kind=OuterRef("place_kind"),
        ended_at__isnull=True,
        offer__isnull=True,
    )
    count = ahead.order_by().values("meeting").annotate(count=Count("pk")).values("count")
    rank = Case(When(offer__isnull=True, then=Coalesce(Subquery(count), 0) + 1))
    return rows.annotate(rank=rank)  # type: ignore[no-redef]  # the model declares it


def ranked_place(waiting_place_id: int) -> WaitingPlace:
    """One place on a waiting list with its rank."""
    return ranked(WaitingPlace.objects.filter(pk=waiting_place_id)).get()


def waiting_of(students: Collection[Student], *, now: datetime) -> QuerySet[WaitingPlace]:
    """The waiting places without an offer of these students in meetings ahead, with their rank, in
    order of joining.
    """
    rows = WaitingPlace.objects.filter(
        student__in=students,
        ended_at__isnull=True,
        offer__isnull=True,
        meeting__starts_at__gt=now,
    )
    return ranked(rows.select_related("student__user", "meeting__offering")).order_by(
        "joined_at", "id"
    )


def is_anybodys(meeting: Meeting, place_kind: PlaceKind, *, now: datetime) -> bool:
    """Whether a free place goes to the first yes.

    It does if nobody waits, if the start is too near for an offer, or if all who wait have been
    told so. The answer depends on those who wait and never on who asks. Once they have been told,
    it holds until the place is taken.
    """
    zones = [waiting.student.zone for waiting in line(meeting, place_kind)]
    if not zones or is_first_yes(now, meeting.starts_at, zones):
        return True
    return (meeting.pk, place_kind.value) in announced([meeting])


def announced(meetings: Collection[Meeting]) -> set[tuple[int, str]]:
    """(meeting id, kind of place) of free places that everybody on the list was told go to the
    first yes.
    """
    told = OutboxMessage.objects.filter(
        kind=MessageKind.PLACE_FREE, meeting__in=meetings
    ).values_list("meeting_id", "state_key")
    return {
        (meeting_id, state_key.split(":")[1])
        for meeting_id, state_key in told
        if meeting_id is not None
    }
