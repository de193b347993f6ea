"""The school's record of a student: added and changed by an admin."""

from datetime import date, datetime

from accounts.models import Student, User
from bookings import outbox
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.families import is_child
from bookings.domain.zones import zone
from bookings.operations.accounts import lock_account
from bookings.operations.audit import record
from bookings.operations.locks import lock_students
from bookings.operations.reminders import family_ids, tell_family_anew
from bookings.queries.guardians import check_guards_nobody


def add_student(
    *,
    actor: User,
    name: str,
    level: int,
    unit: int,
    time_zone: str,
    adult_on: date | None,
    now: datetime,
) -> Student:
    """Adds a student without an account. They or a guardian may be invited later.

    `adult_on` is None for an adult, and always said.
    """
    require_admin(actor)
    student = Student.objects.create(
        own_name=name.strip(),
        level=_level(level),
        unit=unit,
        adult_on=adult_on,
        own_time_zone=zone(time_zone),
    )
    record(actor=actor, verb="added", thing=student, now=now)
    return student


def change_student(
    *,
    actor: User,
    student: Student,
    level: int,
    unit: int,
    adult_on: date | None,
    name: str | None = None,
    time_zone: str | None = None,
    now: datetime,
) -> Student:
    """Changes the record. Name and zone belong to the student's account where there is one.

    Refused: "invalid" for a level that does not exist, or for a name or zone of an account;
    "not-allowed" where a guardian would become a minor.
    """
    require_admin(actor)
    current = lock_students([student.pk])[student.pk]
    if current.user_id is not None and (name is not None or time_zone is not None):
        raise Refused("invalid", "Name and clock stand with this student's account.", field="name")
    wanted: dict[str, object] = {"level": _level(level), "unit": unit, "adult_on": adult_on}
    if name is not None:
        wanted["own_name"] = name.strip()
    if time_zone is not None:
        wanted["own_time_zone"] = zone(time_zone)
    changed = [field for field, value in wanted.items() if value != getattr(current, field)]
    if not changed:
        return current
    for field in changed:
        setattr(current, field, wanted[field])
    if "adult_on" in changed and current.user is not None and is_child(current, now):
        lock_account(current.user)  # so that they do not become a guardian meanwhile
        check_guards_nobody(current.user.pk)
    current.save(update_fields=changed)
    record(actor=actor, verb="changed", thing=current, fields=changed, now=now)
    if {"adult_on", "own_time_zone"} & {*changed}:
        tell_family_anew(current, now=now)
    outbox.bump_feeds(family_ids(current), now=now)
    return current


def _level(level: int) -> int:
    if not 1 <= level <= 10:
        raise Refused("invalid", "A level is a number from 1 to 10.", field="level")
    return level
