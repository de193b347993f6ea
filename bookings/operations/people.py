"""A person's name and time zone."""

from datetime import datetime

from accounts.models import Student, User
from bookings import notices, outbox
from bookings.access import own_students
from bookings.domain.zones import zone
from bookings.operations.audit import record
from bookings.operations.locks import lock_students
from bookings.operations.reminders import shown_to, told_ahead


def lock_me(user: User, *, now: datetime) -> tuple[dict[int, Student], User]:
    """The students for whom this person acts, by id, and this person, locked in that order."""
    students = lock_students(row.pk for row in own_students(user, now=now))
    return students, User.objects.select_for_update(no_key=True).get(pk=user.pk)


def change_me(
    *, actor: User, name: str | None = None, time_zone: str | None = None, now: datetime
) -> User:
    """Changes one's own name and zone. Meetings keep their instants."""
    return change_person(actor=actor, user=actor, name=name, time_zone=time_zone, now=now)


def change_person(
    *, actor: User, user: User, name: str | None, time_zone: str | None, now: datetime
) -> User:
    """Changes a person's name and zone; the caller has judged whether the actor may.

    Pages and emails show times in the new zone, also emails that were written ahead. The students'
    locks keep out a booking in the same instant, whose emails would have the old zone.
    """
    students, current = lock_me(user, now=now)
    told_on, changed = current.zone, []
    if name is not None and name != current.name:
        current.name = name
        changed.append("name")
    if time_zone is not None and time_zone != current.zone:
        current.time_zone = zone(time_zone)
        changed.append("time_zone")
    if not changed:
        return current
    current.save(update_fields=changed)
    record(actor=actor, verb="changed", thing=current, fields=changed, now=now)
    if current.zone != told_on:
        outbox.take_back_ahead(current.pk, now=now)
        bookings = told_ahead(students, now)
        messages = notices.clock_changed(current, bookings, told_on=told_on, now=now)
        outbox.enqueue(messages, now=now)
    outbox.bump_feeds(shown_to(current), now=now)
    return current
