"""Figures from the tables for a monitoring system."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count

from bookings import outbox
from bookings.domain.vocabulary import Ended, Standing
from bookings.models import Booking, OutboxMessage


@dataclass(frozen=True, slots=True)
class Figures:
    """Counts at one moment. `bookings` has rows of (standing, why it ended, count)."""

    bookings: Sequence[tuple[str, str, int]]
    due: int
    given_up: int
    oldest_due: timedelta

    @property
    def offered(self) -> int:
        return sum(count for standing, _, count in self.bookings if standing == Standing.OFFERED)

    @property
    def lapsed(self) -> int:
        return sum(count for _, why, count in self.bookings if why == Ended.LAPSED)


def figures(now: datetime) -> Figures:
    """The figures, in four queries."""
    by_standing = Booking.objects.not_proposed().order_by().values_list("standing", "ended_why")
    return Figures(
        bookings=list(by_standing.annotate(rows=Count("pk"))),
        due=OutboxMessage.objects.sendable().filter(due_at__lte=now).count(),
        given_up=OutboxMessage.objects.emails().given_up().count(),
        oldest_due=outbox.oldest_due(now),
    )
