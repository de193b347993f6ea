"""Exchanges of weekly places: with the last yes all places change hands, and one no ends it."""

from collections.abc import Iterator
from dataclasses import dataclass

from tests.races.desk.book_rows import Exchange, WeeklyTime
from tests.races.desk.rows import Desk
from tests.races.desk.setting import Setting


def against_answer(desk: Desk, pk: int) -> Iterator[str]:
    """What forbids an answer, a second yes included."""
    exchange = desk.books.exchange(pk)
    if exchange is None or exchange.why:
        yield "offer-ended"


@dataclass(frozen=True, slots=True)
class SayYes:
    """One family agrees; again changes nothing."""

    exchange: int
    move: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from against_answer(desk, self.exchange)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        exchange = desk.books.exchange(self.exchange)
        assert exchange is not None
        said = exchange._replace(yes=exchange.yes | {self.move})
        if said.yes != {move.id for move in said.moves}:
            return desk._replace(books=desk.books.with_exchange(said))
        return _changed_hands(desk, said._replace(why="placed"))


@dataclass(frozen=True, slots=True)
class SayNo:
    """One family does not agree, or no longer: nobody's place changes."""

    exchange: int

    def refusals(self, desk: Desk, setting: Setting) -> Iterator[str]:
        yield from against_answer(desk, self.exchange)

    def done(self, desk: Desk, setting: Setting) -> Desk:
        exchange = desk.books.exchange(self.exchange)
        assert exchange is not None
        ended = exchange._replace(why="declined")
        return desk._replace(books=desk.books.with_exchange(ended))


def _changed_hands(desk: Desk, exchange: Exchange) -> Desk:
    left = {WeeklyTime(move.student, move.place) for move in exchange.moves}
    taken = {WeeklyTime(move.student, move.takes) for move in exchange.moves}
    books = desk.books.with_exchange(exchange)
    return desk._replace(books=books._replace(times=books.times - left | taken))
