"""Busy time from other calendars: the calendars, those that are due, and what they clash with."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet

from accounts.models import Instructor, Student
from bookings.models import Booking, BusyCalendar, BusyPeriod, Meeting

Person = Instructor | Student


@dataclass(frozen=True, slots=True)
class BusyTime:
    """A person's calendars, and the meetings or bookings ahead that they clash with."""

    calendars: list[BusyCalendar]
    meetings: list[Meeting]
    bookings: list[Booking]


def busy_time_of(person: Person, *, with_calendars: bool = True, now: datetime) -> BusyTime:
    """What there is of this person's busy time; their meetings, if they teach, else bookings."""
    calendars = list(calendars_of(person)) if with_calendars else []
    if isinstance(person, Instructor):
        return BusyTime(calendars, clashing_meetings(person, now), [])
    return BusyTime(calendars, [], clashing_bookings(person, now))


def calendars_of(person: Person) -> QuerySet[BusyCalendar]:
    """The calendars that say when this person is busy, the oldest first."""
    return BusyCalendar.objects.filter(_of_person(person, "")).order_by("pk")


def calendars_of_each(students: Collection[Student]) -> dict[int, list[BusyCalendar]]:
    """The same for several students, by the student's id: one query."""
    by_user = {student.user_id: student.pk for student in students if student.user_id is not None}
    found: dict[int, list[BusyCalendar]] = {student.pk: [] for student in students}
    rows = BusyCalendar.objects.filter(Q(student__in=found) | Q(owner__in=by_user))
    for row in rows.order_by("pk"):
        found[row.student_id or by_user[row.owner_id or 0]].append(row)
    return found


def calendars_due(now: datetime, limit: int) -> list[int]:
    """The ids of calendars that are due to be fetched, the longest overdue first.

    Those of a closed account are left out.
    """
    due = BusyCalendar.objects.filter(next_at__lte=now).exclude(owner__is_active=False)
    return list(due.order_by("next_at", "pk").values_list("pk", flat=True)[:limit])


def clashing_meetings(instructor: Instructor, now: datetime) -> list[Meeting]:
    """Live meetings ahead that overlap the instructor's busy time, by start.

    They stand until a person decides.
    """
    rows = Meeting.objects.not_called_off().taught_by(instructor).ending_after(now)
    return list(
        rows.filter(_is_busy(instructor))
        .select_related("offering", "instructor__user")
        .order_by("starts_at", "pk")
    )


def clashing_bookings(student: Student, now: datetime) -> list[Booking]:
    """The same for the meetings that a student is held in."""
    return clashing_bookings_of_each([student], now)[student.pk]


def clashing_bookings_of_each(
    students: Collection[Student], now: datetime
) -> dict[int, list[Booking]]:
    """The same for several students, by the student's id: one query."""
    busy = BusyPeriod.objects.filter(
        Q(calendar__student=OuterRef("student"))
        | Q(calendar__owner=OuterRef("student__user"), calendar__owner__isnull=False),
        starts_at__lt=OuterRef("ends_at"),
        ends_at__gt=OuterRef("starts_at"),
    )
    held = Booking.objects.held().ending_after(now)
    rows = held.filter(Exists(busy), student__in=students)
    shown = (
        "meeting__offering",
        "meeting__instructor__user",
        "student__user",
        "policy",
        "intake",
        "mark",
    )
    found: dict[int, list[Booking]] = {student.pk: [] for student in students}
    for row in rows.select_related(*shown).order_by("starts_at", "pk"):
        found[row.student_id].append(row)
    return found


def known_uids(calendar: BusyCalendar, now: datetime) -> list[str]:
    """The UIDs of the owner's own meetings here.

    In their calendar these are no other business of theirs.
    """
    taught = Q(instructor__user=calendar.owner_id) if calendar.owner_id else Q(pk=None)
    booked = Booking.objects.ending_after(now).filter(_learner(calendar))
    learnt = booked.order_by().values("meeting")
    rows = Meeting.objects.ending_after(now).filter(taught | Q(pk__in=learnt)).order_by()
    return [str(uid) for uid in rows.values_list("uid", flat=True)]


def zone_of(person: Person) -> str:
    """The IANA name of a person's clock."""
    return person.user.zone if isinstance(person, Instructor) else person.zone


def _of_person(person: Person, path: str) -> Q:
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
    return Exists(overlapping.filter(_of_person(person, "calendar__")))
