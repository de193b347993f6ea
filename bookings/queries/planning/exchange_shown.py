"""The answer to which weekly places could change hands, with the people whom it names."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from bookings.models import ExchangeMove, Plan, WeeklyPlace

_WAITS = "waits for an answer"
_STATES = {
    "placed": "All said yes: the places have changed hands.",
    "declined": "A family said no. Every place stays as it is.",
    "lapsed": "Not every family answered in time. Every place stays as it is.",
    "left": "A place was given up meanwhile. The other places stay as they are.",
    "removed": "It was not possible any more. Every place stays as it is.",
}


@dataclass(frozen=True, slots=True)
class ShownMove:
    """One family's move; `burden` (0-20) is what the worst hour of the new time costs them."""

    leaves: WeeklyPlace
    takes: WeeklyPlace
    burden: int
    said: str = ""
    dates: Sequence[date] = ()


@dataclass(frozen=True, slots=True)
class ShownExchange:
    """A cycle; `answer_by` and `state` once its families have been asked."""

    moves: Sequence[ShownMove]
    answer_by: datetime | None = None
    state: str = ""


@dataclass(frozen=True, slots=True)
class ShownExchanges:
    """The answer. `left_out` are wishes that lead round but fail on some date."""

    orders: int
    exchanges: Sequence[ShownExchange]
    left_out: Sequence[ShownMove]

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing in it to adopt."""
        return not self.exchanges

    @property
    def verdict(self) -> str:
        """The answer in one sentence."""
        moved = sum(len(exchange.moves) for exchange in self.exchanges)
        if not moved:
            return "No exchange is possible"
        return f"{moved} of {self.orders} families can have a time they prefer"


def shown_exchanges(plan: Plan) -> ShownExchanges:
    """An answer with its places, and how each exchange stands: two queries."""
    answer: dict[str, Any] = plan.answer or {}
    cycles = [cycle["moves"] for cycle in answer["exchanges"]]
    rows = [row for cycle in [*cycles, answer["left_out"]] for row in cycle]
    needed = ("student__user", "instructor__user", "offering")
    ids = {row[name] for row in rows for name in ("place", "takes")}
    places = WeeklyPlace.objects.select_related(*needed).in_bulk(ids)
    asked = ExchangeMove.objects.filter(exchange__plan=plan).select_related("exchange")
    by_place = {move.place_id: move for move in asked}
    return ShownExchanges(
        orders=answer["orders"],
        exchanges=[_exchange(cycle, places, by_place) for cycle in cycles],
        left_out=[_move(row, places, {}) for row in answer["left_out"]],
    )


def _exchange(
    cycle: Sequence[Mapping[str, Any]],
    places: Mapping[int, WeeklyPlace],
    asked: Mapping[int, ExchangeMove],
) -> ShownExchange:
    moves = [_move(row, places, asked) for row in cycle]
    first = asked.get(cycle[0]["place"])
    if first is None:
        return ShownExchange(moves)
    exchange = first.exchange
    return ShownExchange(moves, exchange.answer_by, _STATES.get(exchange.ended_why, ""))


def _move(
    row: Mapping[str, Any], places: Mapping[int, WeeklyPlace], asked: Mapping[int, ExchangeMove]
) -> ShownMove:
    move = asked.get(row["place"])
    said = ""
    if move is not None:
        said = "said yes" if move.said_yes_at is not None else _WAITS
    dates = [date.fromisoformat(on) for on in row.get("dates", ())]
    return ShownMove(places[row["place"]], places[row["takes"]], row["burden"], said, dates)
