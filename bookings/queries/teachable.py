"""Teachable time, computed once and stored in the cache for all searches of the same day."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from hashlib import sha256

from django.core.cache import cache

from bookings.domain.hours import StoredHours, teachable
from bookings.domain.policy import Policy
from bookings.domain.slots import InstructorTime
from bookings.domain.timeline import Horizon
from bookings.domain.zones import TZDATA_VERSION

MOST_DAYS = 92
"""A longer horizon is computed for the requested stretch, and not stored."""
_KEPT_FOR = 26 * 60 * 60  # seconds: a day's masks serve that day
_AROUND = timedelta(days=3)


def with_teachable(
    times: Sequence[InstructorTime], policy: Policy, *, now: datetime
) -> list[InstructorTime]:
    """The same instructors with their teachable time over all bookable days from today (UTC).

    No query.

    The key holds the hours themselves, the version of tzdata and the day. So nothing has to be
    cleared when hours change.
    """
    today = datetime.combine(now.astimezone(UTC).date(), time(), UTC)
    horizon = Horizon.spanning(
        today - _AROUND, today + timedelta(days=min(policy.horizon_days, MOST_DAYS)) + _AROUND
    )
    keys = [_key(instructor, horizon) for instructor in times]
    masks = {key: int.from_bytes(kept, "little") for key, kept in cache.get_many(set(keys)).items()}
    new = {
        key: teachable(times[i].teaching, horizon) for i, key in enumerate(keys) if key not in masks
    }
    if new:
        # As bytes: a cache that writes integers in decimal cannot hold one of thousands of digits.
        cache.set_many(
            {key: mask.to_bytes(-(-horizon.cells // 8), "little") for key, mask in new.items()},
            _KEPT_FOR,
        )
    masks |= new
    return [
        replace(one, stored=StoredHours(horizon, masks[key]))
        for one, key in zip(times, keys, strict=True)
    ]


def _key(instructor: InstructorTime, horizon: Horizon) -> str:
    hours = sha256(repr(instructor.teaching).encode()).hexdigest()
    return f"hours:{hours}:{TZDATA_VERSION}:{horizon.starts_at:%Y%m%d}:{horizon.cells}"
