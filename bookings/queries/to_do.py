"""What waits for an instructor, counted: one query for all kinds."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from django.db.models import Count, Exists, Min, OuterRef, Q, QuerySet, Value

from accounts.models import Instructor
from bookings.access.notes import NOTES_STAY
from bookings.domain.vocabulary import CAME, Kind
from bookings.models import Assessment, Booking, Meeting, MoveRequest
from bookings.queries.held_time import marked_utc


class Waits(StrEnum):
    """What can wait for an instructor, in the order of the page."""

    WRAP_UP = "wrap-up"
    MOVE_REQUEST = "move-request"
    DRAFT = "draft"
    CLASH = "clash"


@dataclass(frozen=True, slots=True)
class ToDo:
    """So many of one kind. `first_at` is the start of the earliest lesson to wrap up or meeting
    that clashes, when the earliest draft was written, when the earliest request was made. `first`
    is the lowest id.
    """

    what: Waits
    count: int
    first: int
    first_at: datetime


def to_do_for(instructor: Instructor, *, now: datetime) -> list[ToDo]:
    """What waits for this instructor, in the order of Waits; kinds without any are left out."""
    own = Meeting.objects.not_called_off().taught_by(instructor)
    requests = MoveRequest.objects.unanswered()
    parts = [
        _counted(own.filter(is_to_wrap_up(now)), Waits.WRAP_UP, "starts_at"),
        _counted(
            requests.filter(booking__meeting__instructor=instructor),
            Waits.MOVE_REQUEST,
            "asked_at",
        ),
        _counted(Assessment.objects.drafts().filter(author=instructor), Waits.DRAFT, "written_at"),
        _counted(own.filter(is_flagged=True).ahead(now), Waits.CLASH, "starts_at"),
    ]
    rows = parts[0].union(*parts[1:], all=True)
    found = {
        what: ToDo(Waits(what), count, first, marked_utc(first_at))
        for what, count, first, first_at in rows
        if count
    }
    return [found[what.value] for what in Waits if what.value in found]


def is_to_wrap_up(now: datetime) -> Q:
    """Whether a meeting is still to be wrapped up.

    It is over, and somebody in it has no mark in the register or, after a consultation and for as
    long as one may be written, no note in any state since it began.
    """
    held = Booking.objects.held().filter(meeting=OuterRef("pk"))
    unmarked = held.filter(mark__isnull=True)
    unwritten = held.filter(
        ~Exists(_notes_since()),
        mark__attendance__in=CAME,
        meeting__offering__kind=Kind.CONSULTATION,
        ends_at__gt=now - NOTES_STAY,
    )
    return Q(ends_at__lte=now) & (Q(Exists(unmarked)) | Q(Exists(unwritten)))


def _notes_since() -> QuerySet[Assessment]:
    """What the instructor of a booking has written about its student since it began."""
    theirs = Assessment.objects.filter(
        student=OuterRef("student"), author=OuterRef("meeting__instructor")
    )
    return theirs.filter(written_at__gte=OuterRef("starts_at")).order_by()


def _counted(rows: QuerySet[Any], what: Waits, when: str) -> QuerySet[Any, Any]:
    """One row: the kind, how many, the lowest id and the earliest instant of that column."""
    kind = rows.order_by().annotate(what=Value(what.value)).values("what")
    return kind.annotate(how_many=Count("pk"), first=Min("pk"), first_at=Min(when)).values_list(
        "what", "how_many", "first", "first_at"
    )
