"""A person's own name and time zone."""

from datetime import datetime

from accounts.models import Student, User
from bookings import notices, outbox
from bookings.access import own_students
from bookings.domain.zones import zone
from bookings.operations.audit import record
from bookings.operations.locks import lock_students
from bookings.operations.reminders import shown_to, told_ahead


def lock_me(actor: User, *, now: datetime) -> tuple[dict[int, Student], User]:
    """The students for whom this person acts, by id, and this person, locked in that order."""
    students = lock_students(row.pk for row in own_students(actor, now=now))
    return students, User.objects.select_for_update(no_key=True).get(pk=actor.pk)


def change_me(
    *, actor: User, name: str | None = None, time_zone: str | None = None, now: datetime
) -> User:
    """Changes one's own name and zone. Meetings keep their instants.

    Pages and emails show times in the new zone, also emails that were written ahead. The students'
    locks keep out a booking in the same instant, whose emails would have the old zone.
    """
    students, user = lock_me(actor, now=now)
    told_on, changed = user.zone, []
    if name is not None and name != user.name:
        user.name = name
        changed.append("name")
    if time_zone is not None and time_zone != user.zone:
        user.time_zone = zone(time_zone)
        changed.append("time_zone")
    if not changed:
        return user
    user.save(update_fields=changed)
    record(actor=actor, verb="changed", thing=user, fields=changed, now=now)
    if user.zone != told_on:
        outbox.take_back_ahead(user.pk, now=now)
        bookings = told_ahead(students, now)
        outbox.enqueue(notices.clock_changed(user, bookings, told_on=told_on, now=now), now=now)
    outbox.bump_feeds(shown_to(user), now=now)
    return user
