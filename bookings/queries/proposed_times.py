"""Proposed times: those that wait for an answer, of a student, a family or an instructor."""

from collections.abc import Collection
from datetime import datetime

from django.db.models import Prefetch, QuerySet

from accounts.models import Instructor, User
from bookings.access import students_named
from bookings.models import Booking, Meeting, ProposedTimes, ProposedTimesQuerySet

_DETAILS = (
    "student__user",
    "offering",
    "instructor__user",
    "move_request__booking__meeting",
)


def with_times(rows: QuerySet[ProposedTimes]) -> QuerySet[ProposedTimes]:
    """The same proposals, each with its `times` by start: one query more."""
    times = Booking.objects.select_related("meeting").order_by("starts_at", "pk")
    return rows.select_related(*_DETAILS).prefetch_related(Prefetch("times", queryset=times))


def open_proposals_to(students: Collection[int]) -> ProposedTimesQuerySet:
    """What is proposed to the students with these ids and not answered."""
    rows = ProposedTimes.objects.unanswered().filter(student__in=students)
    return rows.select_related(*_DETAILS).order_by("pk")


def open_proposals_in(
    instructor: Instructor, *, since: datetime, until: datetime | None
) -> ProposedTimesQuerySet:
    """What an instructor proposes with any time in [since, until), and is not answered."""
    held = Meeting.objects.holding_time().taught_by(instructor)
    held = held.filter(is_proposed=True).ending_after(since)
    if until is not None:
        held = held.filter(starts_at__lt=until)
    rows = ProposedTimes.objects.unanswered().filter(instructor=instructor)
    times = Booking.objects.proposed().in_meetings(held).order_by().values("proposed")
    return rows.filter(pk__in=times).select_related(*_DETAILS).order_by("pk")


def open_proposals_by(
    reader: User, instructor: Instructor | None, *, words: str = "", now: datetime
) -> QuerySet[ProposedTimes]:
    """What this instructor, or for None anybody, proposes to students whom these words find for
    the reader, with its times; two queries.
    """
    rows = with_times(ProposedTimes.objects.unanswered())
    if words:
        rows = rows.filter(student__in=students_named(reader, words, now=now))
    return rows if instructor is None else rows.filter(instructor=instructor)


def times_of(proposal: ProposedTimes) -> list[Booking]:
    """The times of a proposal by start, with their meetings."""
    return list(proposal.times.select_related("meeting").order_by("starts_at", "pk"))
