"""Ids, versions and starts as an address or a form carries them."""

from collections.abc import Mapping
from datetime import date, datetime

from django.http import HttpRequest

from bookings.access import not_there
from bookings.domain.errors import Refused
from bookings.domain.slots import Slot
from bookings.domain.timeline import FIRST_ON, LAST_ON, in_calendar
from bookings.pages.templatetags.formatting import utc


def read_id(text: str | None) -> int:
    """An id. Refused("not-found") for anything that is not a number."""
    if text is None or not text.isdecimal() or len(text) > 18:
        raise not_there()
    return int(text)


def read_version(request: HttpRequest) -> int | None:
    """The version of what the page showed, from its form; None if the form has none."""
    text = request.POST.get("version", "")
    return read_id(text) if text else None


def read_seen(request: HttpRequest) -> str | None:
    """The digest of what the page showed, from its form; None if the form has none."""
    return request.POST.get("seen") or None


def read_written_at(request: HttpRequest) -> datetime | None:
    """When the text that the page showed was written, as its form says; None if it does not."""
    try:
        return datetime.fromisoformat(request.POST.get("read", ""))
    except ValueError:
        return None


def start_value(slot: Slot) -> str:
    """A start and its instructor's id as one value: "7@2027-03-15T16:00:00Z"."""
    return f"{slot.instructor_id}@{utc(slot.starts_at)}"


def read_start(asked: Mapping[str, str]) -> tuple[int, datetime]:
    """The instructor's id and the instant, from `start` or from `instructor` and `starts_at`.

    Refused as `read_id` and `read_instant` refuse.
    """
    instructor_id, starts_at = asked.get("instructor", ""), asked.get("starts_at", "")
    if asked.get("start"):
        instructor_id, _, starts_at = asked["start"].partition("@")
    return read_id(instructor_id), read_instant(starts_at)


def read_instant(text: str) -> datetime:
    """An instant from an address.

    Refused("malformed") if it is none, "naive-time" without an offset, "invalid" outside the
    calendar.
    """
    try:
        # A "+" in an address reads as a space.
        return in_calendar(datetime.fromisoformat(text.replace(" ", "+")))
    except ValueError:
        raise Refused(
            "malformed", "This link does not name a time. Choose one under Times that suit."
        ) from None


def read_day(text: str) -> date:
    """A date from an address, such as 2027-03-05. Refused("malformed") for anything else."""
    try:
        on = date.fromisoformat(text)
    except ValueError:
        on = date.min
    if not FIRST_ON <= on <= LAST_ON:
        raise Refused("malformed", "This link does not name a day. Go back to today.")
    return on
