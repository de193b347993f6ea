"""Exchanges as they end, and what becomes of wishes and exchanges when a weekly place ends.

Whoever answers an exchange holds the locks of its instructors, and then the exchange itself.
"""

from datetime import datetime

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.vocabulary import Ended
from bookings.models import Exchange, PlaceWish, WeeklyPlace, WishOrder
from bookings.operations.audit import record
from bookings.queries.exchanges import moves_of


def end_exchange(exchange: Exchange, *, why: Ended, actor: User | None, now: datetime) -> None:
    """Ends a locked exchange. Questions that have not left are not sent any more."""
    exchange.ended_at, exchange.ended_why = now, why
    exchange.save(update_fields=["ended_at", "ended_why"])
    outbox.withdraw_question(f"exchange:{exchange.pk}")
    record(actor=actor, verb=why.value, thing=exchange, fields=["ended_at"], now=now)


def end_exchange_and_tell(
    exchange: Exchange, *, why: Ended, actor: User | None, now: datetime
) -> None:
    """The same where the places stay as they are: each family in it is told once."""
    end_exchange(exchange, why=why, actor=actor, now=now)
    outbox.enqueue(notices.exchange_ended(exchange, moves_of(exchange), now=now), now=now)


def withdraw_place(place: WeeklyPlace, *, actor: User, now: datetime) -> None:
    """Takes a place that has ended out of every order, and ends the exchange that it is in."""
    PlaceWish.objects.filter(wished=place).delete()
    WishOrder.objects.filter(place=place).delete()
    asked = Exchange.objects.unanswered().filter(moves__place=place).values("pk")
    for exchange in Exchange.objects.select_for_update(no_key=True).filter(pk__in=asked):
        if exchange.ended_at is None:
            end_exchange_and_tell(exchange, why=Ended.LEFT, actor=actor, now=now)
