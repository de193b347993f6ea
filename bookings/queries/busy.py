"""Busy time from other calendars: its calendars, which of them are due, and the meetings it clashes
with.
"""

from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet

from accounts.models import Instructor, Student
from bookings.domain.vocabulary import MeetingStatus, Standing
from bookings.models import Booking, BusyCalendar, BusyPeriod, Meeting

Person = Instructor | Student


def calendars_of(person: Person) -> QuerySet[BusyCalendar]:
    """The calendars that say when this person is busy, the oldest first."""
    return BusyCalendar.objects.filter(_whose(person, "")).order_by("pk")


def calendars_due(now: datetime, limit: int) -> list[int]:
    """The ids of calendars that are due to be fetched, the longest overdue first; none of a closed
    account.
    """
    due = BusyCalendar.objects.filter(next_at__lte=now).exclude(owner__is_active=False)
    return list(due.order_by("next_at", "pk").values_list("pk", flat=True)[:limit])


def clashing_meetings(instructor: Instructor, now: datetime) -> list[Meeting]:
    """Live meetings ahead that overlap the instructor's busy time, by start. They stand until a
    person decides.
    """
    rows = Meeting.objects.exclude(status=MeetingStatus.CANCELLED).filter(
        instructor=instructor, ends_at__gt=now
    )
    return list(
        rows.filter(_is_busy(instructor))
        .select_related("offering", "instructor__user")
        .order_by("starts_at", "pk")
    )


def clashing_bookings(student: Student, now: datetime) -> list[Booking]:
    """Bookings held ahead that overlap the student's busy time, by start."""
    rows = Booking.objects.filter(student=student, standing=Standing.HELD, ends_at__gt=now).filter(
        _is_busy(student)
    )
    shown = (
        "meeting__offering",
        "meeting__instructor__user",
        "student__user",
        "policy",
        "intake",
        "mark",
    )
    return list(rows.select_related(*shown).order_by("starts_at", "pk"))


def known_uids(calendar: BusyCalendar, now: datetime) -> list[str]:
    """The UIDs of the owner's own meetings here. In their calendar these are no other business of
    theirs.
    """
    taught = Q(instructor__user=calendar.owner_id) if calendar.owner_id else Q(pk=None)
    learnt = (
        Booking.objects.filter(_learner(calendar), ends_at__gt=now).order_by().values("meeting")
    )
    rows = Meeting.objects.filter(taught | Q(pk__in=learnt), ends_at__gt=now).order_by()
    return [str(uid) for uid in rows.values_list("uid", flat=True)]


def zone_of(person: Person) -> str:
    """The IANA name of a person's clock."""
    return person.user.zone if isinstance(person, Instructor) else person.zone


def _whose(person: Person, path: str) -> Q:
    if isinstance(person, Instructor):
        return Q(**{f"{path}owner": person.user_id})
    own = Q(**{f"{path}student": person.pk})
    return own if person.user_id is None else own | Q(**{f"{path}owner": person.user_id})


def _learner(calendar: BusyCalendar) -> Q:
    return (
        Q(student=calendar.student_id)
        if calendar.student_id
        else Q(student__user=calendar.owner_id)
    )


def _is_busy(person: Person) -> Exists:
    overlapping = BusyPeriod.objects.filter(
        starts_at__lt=OuterRef("ends_at"), ends_at__gt=OuterRef("starts_at")
    )
    return Exists(overlapping.filter(_whose(person, "calendar__")))
