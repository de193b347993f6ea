"""Reminders and other emails that were written ahead, written anew when readers change.

They change when others answer for a student, and when a student's coming of age moves.
"""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Q

from accounts.models import Guardianship, Student, User
from bookings import notices, outbox
from bookings.access import own_students
from bookings.models import Booking


def tell_family_anew(student: Student, *, now: datetime) -> None:
    """Writes this family's reminders anew, each to those who answer when it is due.

    The caller holds the student's lock. A reminder may have been put off to the morning in the zone
    of one reader, so those of every reader's zone are looked for.
    """
    family = list(User.objects.filter(pk__in=family_ids(student), is_active=True).order_by("pk"))
    zones = sorted({reader.zone for reader in family})
    for reader in family:
        tell_anew(reader, zones, now=now)


def tell_anew(reader: User, zones: Iterable[str], *, now: datetime) -> None:
    """Writes one reader's reminders again. `zones` are those of their older emails."""
    outbox.take_back_ahead(reader.pk, now=now)
    bookings = told_ahead((row.pk for row in own_students(reader, now=now)), now)
    messages = []
    for told_on in zones:
        messages += notices.clock_changed(reader, bookings, told_on=told_on, now=now)
    outbox.enqueue(messages, now=now)


def family_ids(student: Student) -> set[int]:
    """The ids of the accounts of a student and of the guardians who answer for them."""
    own = {student.user_id} if student.user_id is not None else set()
    return {*student.guardianships.answering().values_list("guardian", flat=True), *own}


def shown_to(user: User) -> set[int]:
    """The ids of people whose feeds show this person's name and times: them and their guardians."""
    theirs = Guardianship.objects.answering().filter(student__user=user)
    return {user.pk, *theirs.values_list("guardian", flat=True)}


def told_ahead(students: Iterable[int], now: datetime) -> list[Booking]:
    """Live bookings ahead of these students, by start, and all of their weekly places' bookings.

    Those gone by are needed too: they tell the usual hour of a weekly place.
    """
    ahead = Q(starts_at__gt=now)
    ahead |= Q(meeting__weekly_place__ended_at__isnull=True, meeting__weekly_place__isnull=False)
    weekly_places = (
        "meeting__weekly_place__student__user",
        "meeting__weekly_place__offering",
        "meeting__weekly_place__instructor__user",
    )
    live = Booking.objects.live().filter(ahead, student__in=students)
    return list(live.with_details().select_related(*weekly_places).order_by("starts_at", "pk"))
