"""Emails about exchanges of weekly places. They name times and instructors, never a family."""

from collections.abc import Sequence
from datetime import date, datetime

from accounts.models import User
from bookings.domain.vocabulary import Ended
from bookings.models import Exchange, ExchangeMove, OutboxMessage
from bookings.notices.people import by_reader, names, short_name
from bookings.notices.rows import row
from bookings.notices.weekly import weekly_changed
from bookings.notices.weekly_places import Left, Taken, day_and_month, weekly_time
from bookings.notices.wording import email_text, full_time, link, possessive, short_time
from bookings.outbox import MessageKind

_ENDED = {
    Ended.DECLINED: "Not every family said yes to the exchange.",
    Ended.LAPSED: "Not every family answered in time.",
}
_GONE = "The exchange is not possible any more, because something has changed since."


def exchange_asked(
    exchange: Exchange,
    moves: Sequence[ExchangeMove],
    *,
    now: datetime,
) -> list[OutboxMessage]:
    """One email to each reader: the new time instead of the old one, until when to answer."""
    messages = []
    for reader, theirs in _by_reader(moves, now).items():
        until = full_time(exchange.answer_by, reader.zone)
        told = [_asked(move, reader) for move in theirs]
        after = (
            f"Please say yes or no by {until}. Your weekly place changes only if every family in "
            "the exchange says yes. Otherwise it stays as it is."
        )
        title = (
            f"Exchange of a weekly place: {weekly_time(theirs[0].takes)} instead of "
            f"{weekly_time(theirs[0].place)}"
        )
        body = email_text(reader.name, [*told, after])
        messages.append(
            _row(exchange, reader, "asked", title, body, kind=MessageKind.OFFER, now=now)
        )
    return messages


def exchange_ended(
    exchange: Exchange, moves: Sequence[ExchangeMove], *, now: datetime
) -> list[OutboxMessage]:
    """Tells each reader once that nothing has changed hands."""
    why = _ENDED.get(Ended(exchange.ended_why), _GONE)
    messages = []
    for reader, theirs in _by_reader(moves, now).items():
        stays = [
            f"{_whose(move, reader)} weekly place stays as it is: {_time(move)}."
            for move in theirs
            if move.place.ended_at is None
        ]
        body = email_text(reader.name, [why, *stays])
        title = "An exchange of weekly places has ended"
        messages.append(_row(exchange, reader, "ended", title, body, now=now))
    return messages


def places_exchanged(
    left: Sequence[Left], taken: Sequence[Taken], begins_on: date, *, now: datetime
) -> list[OutboxMessage]:
    """The places of a cycle have changed hands: as any weekly places that move, once a reader."""
    said = (
        "Every family has said yes to the exchange. The new time begins in the week of Monday "
        f"{day_and_month(begins_on)}. Until then the lessons stay as they are."
    )
    return weekly_changed(left=left, taken=taken, to_families=said, now=now)


def _by_reader(moves: Sequence[ExchangeMove], now: datetime) -> dict[User, list[ExchangeMove]]:
    by_place = {move.place: move for move in moves}
    readers = by_reader(by_place, now)
    return {reader: [by_place[place] for place in places] for reader, places in readers.items()}


def _asked(move: ExchangeMove, reader: User) -> str:
    """ "Posy’s weekly place could change: Tuesdays 16:30, Dublin, with I. Quarrow instead of …" """
    instructor = short_name(move.takes.instructor.user)
    return (
        f"{_whose(move, reader)} weekly place could change: {weekly_time(move.takes)}, with "
        f"{instructor}, instead of {_time(move)}. The first lesson would be on "
        f"{short_time(move.first_at, reader.zone)}.\n\n"
        f"Say yes or no: {link(f'/exchanges/{move.pk}/')}"
    )


def _time(move: ExchangeMove) -> str:
    return f"{weekly_time(move.place)}, with {short_name(move.place.instructor.user)}"


def _whose(move: ExchangeMove, reader: User) -> str:
    return possessive(names(reader, [move.place]))


def _row(
    exchange: Exchange,
    reader: User,
    state: str,
    title: str,
    body: str,
    *,
    kind: MessageKind = MessageKind.TOLD,
    now: datetime,
) -> OutboxMessage:
    good_until = exchange.answer_by if kind is MessageKind.OFFER else None
    key = f"exchange:{exchange.pk}"
    return row(reader, kind, key, state, title=title, body=body, good_until=good_until, now=now)
