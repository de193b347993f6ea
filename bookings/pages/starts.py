"""A start in an address or a form: whose it is, and when."""

from collections.abc import Mapping
from datetime import datetime

from bookings.domain.errors import Refused
from bookings.domain.slots import Slot
from bookings.domain.timeline import in_calendar
from bookings.pages.acting import number
from bookings.pages.templatetags.formatting import utc


def as_value(slot: Slot) -> str:
    """A start and whose it is, as one value: "7@2027-03-15T16:00:00Z"."""
    return f"{slot.instructor_id}@{utc(slot.starts_at)}"


def read_start(asked: Mapping[str, str]) -> tuple[int, datetime]:
    """The instructor's id and the instant, from `start` or from `instructor` and `starts_at`; Refused where it makes no sense."""
    instructor_id, starts_at = asked.get("instructor", ""), asked.get("starts_at", "")
    if asked.get("start"):
        instructor_id, _, starts_at = asked["start"].partition("@")
    return number(instructor_id), read_instant(starts_at)


def read_instant(text: str) -> datetime:
    """An instant from an address; Refused("naive-time") without an offset, "invalid" outside the
    calendar."""
    try:
        return in_calendar(
            datetime.fromisoformat(text.replace(" ", "+"))
        )  # a "+" in an address reads as a space
    except ValueError:
        raise Refused(
            "malformed", "This link does not name a time. Choose one under Times that suit."
        ) from None
