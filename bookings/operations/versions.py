"""Whether a row is still as its reader saw it."""

from bookings.domain.errors import Refused
from bookings.models import (
    Booking,
    BusyCalendar,
    ExchangeMove,
    Feed,
    Meeting,
    Offering,
    OwedLesson,
    Plan,
    ProposedTimes,
    StudentWeek,
    TeachingWeek,
    Term,
    Webhook,
    WeeklyPlace,
    WishOrder,
)

Versioned = (
    Booking
    | BusyCalendar
    | ExchangeMove
    | Feed
    | Meeting
    | Offering
    | OwedLesson
    | Plan
    | ProposedTimes
    | StudentWeek
    | TeachingWeek
    | Term
    | Webhook
    | WeeklyPlace
    | WishOrder
)


def check_version(row: Versioned, version: int | None, *, detail: str = "") -> None:
    """Refuses with "stale" where a locked row is not at the `version` that the caller read.

    None for a caller who read no version. `detail` is the sentence to say where the row's name does
    not read well in the usual one.
    """
    if version is not None and row.version != version:
        usual = (
            f"The {row._meta.verbose_name} has changed since you read it. "
            "Read it again, then decide."
        )
        raise Refused("stale", detail or usual)
