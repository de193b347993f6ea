"""What becomes of an instructor's meetings in a stretch of hours that they cannot teach."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from hashlib import sha256

from bookings.domain.errors import Refused
from bookings.domain.timeline import Period, rfc3339

MOST_DAYS = 62
"""How long a stretch may be: its families have to be read one by one."""


class Remedy(StrEnum):
    """What becomes of one meeting. A group meeting can only be called off."""

    CALL_OFF = "call-off"
    COVER = "cover"
    MOVE = "move"
    PROPOSE = "propose"


@dataclass(frozen=True, slots=True)
class Decision:
    """What becomes of the meeting with this id.

    `instructor_id` is who covers it. `starts_at` is where it moves; None for the next start at a
    humane hour. PROPOSE calls it off, and tells the family that new times will be proposed.
    """

    meeting_id: int
    remedy: Remedy
    instructor_id: int | None = None
    starts_at: datetime | None = None


def check_stretch(stretch: Period, now: datetime) -> None:
    """Refused: "past" for hours that are over, "invalid" for more than MOST_DAYS days."""
    if stretch.ends_at <= now:
        raise Refused("past", "These hours are over. Choose later ones.", field="ends_at")
    if stretch.ends_at - stretch.starts_at > timedelta(days=MOST_DAYS):
        raise Refused("invalid", f"Choose at most {MOST_DAYS} days.", field="ends_at")


def check_decision(
    decision: Decision, since: datetime, until: datetime | None, *, is_one_on_one: bool
) -> None:
    """Refused: "wrong-kind" for a group that is not called off, "invalid" for a cover without a
    substitute or a new start within [since, until).
    """
    if decision.remedy != Remedy.CALL_OFF and not is_one_on_one:
        raise Refused("wrong-kind", "A group meeting can only be called off here.")
    if decision.remedy == Remedy.COVER and decision.instructor_id is None:
        raise Refused("invalid", "Say who covers the lesson.")
    start = decision.starts_at
    if start is not None and since <= start and (until is None or start < until):
        raise Refused("invalid", "Choose a new start outside these hours.")


def shown_digest(decisions: Iterable[Decision], why: str, seen: str) -> str:
    """A digest of what a preview showed: the decisions, the reason, and `seen`, the digest of the
    meetings. Nobody carries out what they have not read.
    """
    lines = [
        f"{one.meeting_id} {one.remedy} {one.instructor_id or ''} "
        f"{rfc3339(one.starts_at) if one.starts_at else ''}"
        for one in sorted(decisions, key=lambda one: one.meeting_id)
    ]
    return sha256("\n".join([seen, why, *lines]).encode()).hexdigest()
