"""What was written ahead is told anew where others answer for a student from now on, or from another day."""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Q

from accounts.models import Guardianship, Student, User
from bookings import notices, outbox
from bookings.access import own_students
from bookings.models import LIVE, Booking


def tell_family_anew(student: Student, *, now: datetime) -> None:
    """Reminders and shifts of this family, to those who answer when they are due; call it with the student locked.

    What the clock of one of them had put off to the morning is told to whoever answers now.
    """
    family = list(User.objects.filter(pk__in=family_ids(student), is_active=True).order_by("pk"))
    messages = []
    for reader in family:
        outbox.take_back_ahead(reader.pk, now=now)
        bookings = told_ahead((row.pk for row in own_students(reader, now=now)), now)
        for told_on in sorted({one.zone for one in family}):
            messages += notices.clock_changed(reader, bookings, told_on=told_on, now=now)
    outbox.enqueue(messages, now=now)


def family_ids(student: Student) -> set[int]:
    """The accounts of a student and of all guardians, whoever of them answers now."""
    own = {student.user_id} if student.user_id is not None else set()
    return {*student.guardianships.values_list("guardian", flat=True), *own}


def shown_to(user: User) -> set[int]:
    """Whose calendars depend on a person's name and clock: their own, and those of their guardians."""
    guardians = Guardianship.objects.filter(student__user=user).values_list("guardian", flat=True)
    return {user.pk, *guardians}


def told_ahead(students: Iterable[int], now: datetime) -> list[Booking]:
    """Live bookings ahead, and those of weekly places from their beginning, by start."""
    ahead = Q(starts_at__gt=now) | Q(
        meeting__weekly_place__ended_at__isnull=True, meeting__weekly_place__isnull=False
    )
    live = Booking.objects.filter(ahead, student__in=students, standing__in=LIVE)
    related = ("policy", "student__user", "meeting__offering", "meeting__instructor__user")
    places = (
        "meeting__weekly_place__student__user",
        "meeting__weekly_place__offering",
        "meeting__weekly_place__instructor__user",
    )
    return list(live.select_related(*related, *places).order_by("starts_at", "pk"))
