"""An instructor waives their own load rules for one start."""

from datetime import datetime

from accounts.models import Instructor, User
from bookings.domain.errors import Refused
from bookings.domain.timeline import CELL, EPOCH, in_utc
from bookings.models import LoadAllowance
from bookings.operations.audit import record
from bookings.operations.locks import lock_instructors


def allow_over_load(
    *, actor: User, instructor: Instructor, starts_at: datetime, now: datetime
) -> LoadAllowance:
    """Waives the load rules for one start, and for a group meeting hours and days away as well.

    A second time changes nothing.

    Refused: "not-allowed" to anybody but the instructor, "past", "off-grid" off whole 5 minutes,
    "naive-time".
    """
    if actor.pk != instructor.user_id:
        raise Refused("not-allowed", "Only the instructor may allow more than their own load.")
    starts_at = in_utc(starts_at)
    if starts_at <= now:
        raise Refused("past", "Choose a start in the future.")
    if (starts_at - EPOCH) % CELL:
        raise Refused("off-grid", "Choose a start on whole 5 minutes.")
    lock_instructors([instructor.pk])
    allowance, is_new = LoadAllowance.objects.get_or_create(
        instructor=instructor,
        starts_at=starts_at,
        defaults={"allowed_by": actor, "allowed_at": now},
    )
    if is_new:
        record(
            actor=actor, verb="allowed over load", thing=allowance, fields=["starts_at"], now=now
        )
    return allowance
