"""Offerings: an admin makes one, changes one, and says who teaches it to which levels."""

from dataclasses import dataclass
from datetime import datetime
from typing import TypedDict

from accounts.models import Instructor, User
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.offerings import check_lengths, check_levels
from bookings.domain.vocabulary import Grid, Kind
from bookings.models import Offering, Teaches
from bookings.operations.audit import record
from bookings.operations.locks import lock_instructors
from bookings.operations.versions import check_version
from bookings.queries.offerings import has_been_booked, lessons_outside_levels

FIXED = ("kind", "minutes")
"""What is never changed once something has been booked: meetings and owed lessons rely on it."""


class OfferingValues(TypedDict, total=False):
    """What an offering says. A step of 0 and a changeover of None stand for the usual ones."""

    name: str
    kind: Kind
    summary: str
    minutes: int
    grid: Grid
    step_minutes: int
    changeover_minutes: int | None
    is_open: bool


@dataclass(frozen=True, slots=True)
class ChangedTeaching:
    """The offering, and how many of the instructor's lessons ahead lie outside the levels.

    Those lessons stay booked.
    """

    offering: Offering
    left_outside: int


def make_offering(*, actor: User, values: OfferingValues, now: datetime) -> Offering:
    """One more offering, which nobody teaches yet. `name`, `kind` and `minutes` are needed.

    Refused: "not-allowed", "invalid" as `check_lengths` or where another has its name.
    """
    require_admin(actor)
    offering = Offering(**values)
    _check(offering)
    offering.save()
    record(actor=actor, verb="made", thing=offering, now=now)
    return offering


def change_offering(
    *,
    actor: User,
    offering: Offering,
    version: int | None = None,
    values: OfferingValues,
    now: datetime,
) -> Offering:
    """Changes what `values` names. Lessons that are booked stay as they are.

    Refused: "not-allowed", "stale", "invalid" as `make_offering`, "has-bookings" for another kind
    or length once something has been booked.
    """
    require_admin(actor)
    # The full lock, so that a meeting being made is either seen here or made afterwards.
    current = Offering.objects.select_for_update().get(pk=offering.pk)
    check_version(current, version)
    changed = [field for field, value in values.items() if value != getattr(current, field)]
    if not changed:
        return current
    if set(changed) & set(FIXED) and has_been_booked(current):
        raise Refused(
            "has-bookings",
            f"{current} has been booked, so its kind and length stay. Make another offering, "
            "then close this one to new bookings.",
        )
    for field in changed:
        setattr(current, field, values[field])  # type: ignore[literal-required]
    _check(current)
    current.version += 1
    current.save()
    record(actor=actor, verb="changed", thing=current, fields=changed, now=now)
    return current


def set_teaches(
    *,
    actor: User,
    offering: Offering,
    instructor: Instructor,
    levels: tuple[int, int] | None,
    version: int | None = None,
    now: datetime,
) -> ChangedTeaching:
    """The instructor teaches this offering to these levels (both included); None: no longer.

    `version` is that of the offering. Refused: "not-allowed", "stale", "invalid" as
    `check_levels`, "already-ended" for an instructor who does not teach here any more.
    """
    require_admin(actor)
    teacher = lock_instructors([instructor.pk])[instructor.pk]
    current = Offering.objects.select_for_update(no_key=True).get(pk=offering.pk)
    check_version(current, version)
    if levels is not None:
        check_levels(*levels)
        if not teacher.is_active:
            raise Refused("already-ended", f"{teacher} does not teach here any more.")
    if _write(current, teacher, levels):
        current.version += 1
        current.save(update_fields=["version"])
        record(actor=actor, verb="changed", thing=current, fields=["taught_by"], now=now)
    return ChangedTeaching(current, lessons_outside_levels(current, teacher, levels, now))


def _write(offering: Offering, instructor: Instructor, levels: tuple[int, int] | None) -> bool:
    """Writes who teaches what; whether that is a change."""
    row = Teaches.objects.filter(offering=offering, instructor=instructor).first()
    if levels is None:
        if row is not None:
            row.delete()
        return row is not None
    if row is None:
        row = Teaches(offering=offering, instructor=instructor)
    elif (row.lowest_level, row.highest_level) == levels:
        return False
    row.lowest_level, row.highest_level = levels
    row.save()
    return True


def _check(offering: Offering) -> None:
    check_lengths(
        minutes=offering.minutes,
        grid=Grid(offering.grid),
        step_minutes=offering.step_minutes,
        changeover_minutes=offering.changeover_minutes,
    )
