"""Exchanges of weekly places: the families of a cycle are asked, and all say yes or nothing is
done.

Every answer locks the instructors, lessons and students of the whole cycle first, and so does
whoever gives one of its places up: two of these never see the same exchange open. An answer at
`answer_by` is too late.
"""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.db import transaction

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.planning.exchanges_judged import first_week
from bookings.domain.vocabulary import Ended
from bookings.models import Booking, Exchange, ExchangeMove, Plan, WeeklyPlace
from bookings.operations.audit import record
from bookings.operations.consents import require_consent
from bookings.operations.exchange_state import end_exchange, end_exchange_and_tell
from bookings.operations.owed_state import owe_missing_dates
from bookings.operations.versions import check_version
from bookings.operations.weekly import lock_places, weeks_with_a_lesson
from bookings.operations.weekly_lessons import give_up_place, take_place
from bookings.queries.exchanges import moves_of
from bookings.queries.planning.exchange import stay_until


def ask_families(
    *,
    actor: User,
    plan: Plan,
    moves: Sequence[ExchangeMove],
    answer_by: datetime,
    now: datetime,
) -> Exchange:
    """Asks the families of one cycle. `moves` are unsaved. The caller holds the locks and has
    judged all of them.
    """
    term = moves[0].place.term
    exchange = Exchange.objects.create(plan=plan, term=term, made_at=now, answer_by=answer_by)
    for move in moves:
        move.exchange = exchange
    ExchangeMove.objects.bulk_create(moves)
    record(actor=actor, verb="asked families", thing=exchange, now=now)
    messages = notices.exchange_asked(exchange, moves_of(exchange), now=now)
    outbox.enqueue(messages, now=now)
    return exchange


def accept_exchange(
    *, actor: User, move: ExchangeMove, version: int | None = None, now: datetime
) -> ExchangeMove:
    """The family says yes. With the last yes of the cycle all places change hands.

    Where they cannot any more, the exchange ends instead, and each family is told. A second yes
    changes nothing. Refused: "offer-ended", "stale", and as `require_consent`.
    """
    exchange, moves, bookings = _lock_open(move, version=version, now=now)
    mine = next(one for one in moves if one.pk == move.pk)
    require_consent(mine.place.student, now=now)
    if mine.said_yes_at is None:
        mine.said_yes_at = now
        mine.version += 1
        mine.save(update_fields=["said_yes_at", "version"])
        record(actor=actor, verb="said yes", thing=mine, fields=["said_yes_at"], now=now)
    if all(one.said_yes_at is not None for one in moves):
        _change_hands_or_end(exchange, moves, bookings, actor=actor, now=now)
    mine.exchange.refresh_from_db()
    return mine


def decline_exchange(
    *, actor: User, move: ExchangeMove, version: int | None = None, now: datetime
) -> ExchangeMove:
    """The family says no, also after a yes. The exchange ends, and each family of it is told once.

    Refused: "offer-ended", "stale".
    """
    exchange, moves, _ = _lock_open(move, version=version, now=now)
    end_exchange_and_tell(exchange, why=Ended.DECLINED, actor=actor, now=now)
    mine = next(one for one in moves if one.pk == move.pk)
    mine.exchange = exchange
    return mine


def lapse_exchanges(*, now: datetime) -> int:
    """Ends all exchanges whose time to answer is over; returns how many."""
    due = list(Exchange.objects.lapsed_by(now).order_by("pk"))
    places = WeeklyPlace.objects.filter(exchange_moves__exchange__in=due).select_related("student")
    lock_places(list(places), now)
    lapsed = [current for current in map(_open, due) if current is not None]
    for exchange in lapsed:
        end_exchange_and_tell(exchange, why=Ended.LAPSED, actor=None, now=now)
    return len(lapsed)


def _lock_open(
    move: ExchangeMove, *, version: int | None, now: datetime
) -> tuple[Exchange, list[ExchangeMove], list[Booking]]:
    """The open exchange with its moves and the lessons of its places, all locked in lock order."""
    bookings = lock_places([one.place for one in moves_of(move.exchange)], now)
    exchange = _open(move.exchange)
    if exchange is None:
        raise Refused("offer-ended", "This exchange has ended. Your weekly place is as it was.")
    moves = moves_of(exchange)
    check_version(next(one for one in moves if one.pk == move.pk), version)
    if now >= exchange.answer_by:
        raise Refused("offer-ended", "The time to answer has passed. Your place is as it was.")
    return exchange, moves, bookings


def _open(exchange: Exchange) -> Exchange | None:
    """The exchange, locked; None where it has ended."""
    current = Exchange.objects.select_for_update(no_key=True).get(pk=exchange.pk)
    return current if current.ended_at is None else None


def _change_hands_or_end(
    exchange: Exchange,
    moves: Sequence[ExchangeMove],
    bookings: Sequence[Booking],
    *,
    actor: User,
    now: datetime,
) -> None:
    try:
        with transaction.atomic():
            _change_hands(exchange, moves, bookings, actor=actor, now=now)
    except Refused:
        # What stands in the way may be another family's: nobody is told more than that.
        current = Exchange.objects.get(pk=exchange.pk)
        end_exchange_and_tell(current, why=Ended.REMOVED, actor=actor, now=now)


def _change_hands(
    exchange: Exchange,
    moves: Sequence[ExchangeMove],
    bookings: Sequence[Booking],
    *,
    actor: User,
    now: datetime,
) -> None:
    """Gives up every place of the cycle, then takes every one: each date is judged again.

    It begins on a Monday for all, after the last lesson that has to stay. Until then the lessons
    are as they were.
    """
    end_exchange(exchange, why=Ended.PLACED, actor=actor, now=now)
    places = [move.place for move in moves]
    begins_on = first_week(stay_until(places, now=now).values())
    ahead = [booking for booking in bookings if booking.meeting.wall_on >= begins_on]
    left = [give_up_place(one, ahead, why=Ended.MOVED, actor=actor, now=now) for one in places]
    taken = [
        _take(move, begins_on, weeks_with_a_lesson(old), actor=actor, now=now)
        for move, old in zip(moves, left, strict=True)
    ]
    for old, new in zip(left, taken, strict=True):
        missing = len(old.ended) - len(new.bookings)
        owe_missing_dates(new.place, missing, actor=actor, now=now)
    outbox.enqueue(notices.places_exchanged(left, taken, begins_on, now=now), now=now)


def _take(
    move: ExchangeMove, begins_on: date, without: set[date], *, actor: User, now: datetime
) -> notices.Taken:
    require_consent(move.place.student, now=now)
    term = move.place.term
    new = WeeklyPlace(
        term=term,
        student=move.place.student,
        instructor=move.takes.instructor,
        offering=move.place.offering,
        weekday=move.takes.weekday,
        wall_at=move.takes.wall_at,
    )
    days = (begins_on - term.first_on).days
    before = [term.first_on + timedelta(days=day) for day in range(days)]
    return take_place(new, without.union(before), actor=actor, now=now)
