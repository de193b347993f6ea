"""The order of players in a masterclass.

A player who must leave by a time has finished by then: this is never given up. Among the orders
that keep it, least is made of, in turn:
1. who opened last time opens again (0 or 1);
2. pairs in which the higher level plays before the lower;
3. pairs in which the later booking plays before the earlier;
and of orders still equal, the earlier booking plays first where they first differ.

Exact, by dynamic programming over the sets of players still to play: a set fixes when the next turn
begins, and what the turns before it cost does not depend on their order to come. For n players that
is n * 2^n steps. The three aims and their order are common practice (lowest level first, nobody
opens twice running).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from bookings.domain.errors import Refused
from bookings.domain.instants import instants
from bookings.domain.timeline import in_utc
from bookings.domain.zones import zone

CLOSING_MINUTES = 10
"""Kept after the last turn, for everybody."""
MOST_PLAYERS = 12
TURN_MINUTES = 15
"""A turn for which nobody has said otherwise: 15-20 minutes a player (TRADE.md 1.6)."""
MOST_MINUTES = 120

Value = tuple[int, int, int]
"""Who opened last time opens again, pairs against the levels, pairs against the bookings."""


@dataclass(frozen=True, slots=True)
class Player:
    """`minutes` is the length of the turn; `leaves_by` the instant by which it has to be over."""

    student_id: int
    level: int
    minutes: int
    leaves_by: datetime | None = None
    opened_last_time: bool = False

    def __post_init__(self) -> None:
        if self.leaves_by is not None:
            object.__setattr__(self, "leaves_by", in_utc(self.leaves_by))


class Early(StrEnum):
    """Why a player comes before somebody of a lower level."""

    LEAVES = "leaves"
    OPENED_LAST_TIME = "opened-last-time"
    OTHERS_LEAVE = "others-leave"

    @property
    def sentence(self) -> str:
        """The reason for everybody on the roster: it names nobody else and no level."""
        return _EARLY[self]


_EARLY = {
    Early.LEAVES: "This turn is early because the player has to leave early.",
    Early.OPENED_LAST_TIME: "This turn is early so that nobody opens twice in a row.",
    Early.OTHERS_LEAVE: "This turn is early because another player has to leave early.",
}


@dataclass(frozen=True, slots=True)
class Turn:
    """One player's [starts_at, ends_at), UTC. `early` is None where no lower level follows."""

    student_id: int
    starts_at: datetime
    ends_at: datetime
    early: Early | None


@dataclass(frozen=True, slots=True)
class Agenda:
    """The turns in their order. `ends_at` is the end of the meeting, UTC."""

    turns: tuple[Turn, ...]
    ends_at: datetime
    value: Value


def agenda(players: Sequence[Player], starts_at: datetime) -> Agenda:
    """The best order of these players, who stand in the order of their bookings.

    Refused: "invalid" where nobody plays, a turn has no length or a player stands twice;
    "limit-reached" for more than 12; "no-order" where no order lets everybody leave in time, with
    the fewest students who cannot be kept as `late`.
    """
    starts_at = in_utc(starts_at)
    _check(players)
    late = too_late(players, starts_at)
    if late:
        raise Refused(
            "no-order",
            "No order lets every player leave in time. Start earlier, shorten the turns, or ask "
            "the players named here to stay longer.",
            late=[player.student_id for player in late],
        )
    value, order = _best(players, starts_at)
    turns, at = [], starts_at
    for i in order:
        ends_at = at + timedelta(minutes=players[i].minutes)
        early = _early(players, i, order, starts_at)
        turns.append(Turn(players[i].student_id, at, ends_at, early))
        at = ends_at
    return Agenda(tuple(turns), at + timedelta(minutes=CLOSING_MINUTES), value)


def check_leaves_by(leaves_by: datetime, starts_at: datetime, ends_at: datetime) -> None:
    """Refused("invalid") for an instant that does not lie within the meeting."""
    if not starts_at < leaves_by < ends_at:
        raise Refused(
            "invalid",
            "Give a time within the meeting, or leave it empty for a player who can stay to the "
            "end.",
            field="leaves_by",
        )


def instant_to_leave(
    minute: int, starts_at: datetime, ends_at: datetime, time_zone: str
) -> datetime:
    """The instant within the meeting at which the zone's clock shows that minute of the day, of two
    the first. Refused as `check_leaves_by` where there is none.
    """
    clock = zone(time_zone)
    days = sorted({at.astimezone(clock).date() for at in (starts_at, ends_at)})
    shown = [at for on in days for at in instants(on, minute, time_zone)]
    leaves_by = next((at for at in shown if starts_at < at < ends_at), starts_at)
    check_leaves_by(leaves_by, starts_at, ends_at)
    return leaves_by


def too_late(players: Sequence[Player], starts_at: datetime) -> list[Player]:
    """The fewest players without whom the others can all leave in time, by booking.

    Earliest leaving first; whenever a turn would end too late, the longest turn so far is left out,
    of equal ones the latest booking (Moore 1968, from memory; the tests compare with all sets).
    """
    kept: list[tuple[int, int]] = []  # (minutes, place in the order of booking)
    late = []
    leaving = [(p.leaves_by, i) for i, p in enumerate(players) if p.leaves_by is not None]
    for leaves_by, i in sorted(leaving):
        kept.append((players[i].minutes, i))
        if starts_at + timedelta(minutes=sum(minutes for minutes, _ in kept)) > leaves_by:
            late.append(kept.pop(kept.index(max(kept))))
    return [players[i] for _, i in sorted(late, key=lambda one: one[1])]


def _check(players: Sequence[Player]) -> None:
    if not players:
        raise Refused("invalid", "Choose at least one player.", field="players")
    if len(players) > MOST_PLAYERS:
        raise Refused(
            "limit-reached", f"An agenda has at most {MOST_PLAYERS} players. Leave some out."
        )
    if not all(1 <= player.minutes <= MOST_MINUTES for player in players):
        raise Refused(
            "invalid", f"Give every player between 1 and {MOST_MINUTES} minutes.", field="minutes"
        )
    if len({player.student_id for player in players}) < len(players):
        raise Refused("invalid", "Name each player once.", field="players")


def _best(players: Sequence[Player], starts_at: datetime) -> tuple[Value, tuple[int, ...]]:
    """The least value and its order, as places in `players`. Some order lets all leave in time."""
    everybody = (1 << len(players)) - 1
    lower = [_those(q.level < p.level for q in players) for p in players]
    last_end = starts_at + timedelta(minutes=sum(player.minutes for player in players))
    begins = {0: last_end}
    best: dict[int, tuple[Value, tuple[int, ...]]] = {0: ((0, 0, 0), ())}
    for left in range(1, everybody + 1):  # a set comes after all its subsets
        final = left.bit_length() - 1
        begin = begins[left & ~(1 << final)] - timedelta(minutes=players[final].minutes)
        begins[left] = begin
        orders = []
        for i, player in enumerate(players):
            after = left & ~(1 << i)
            if after == left or after not in best or _is_late(player, begin):
                continue
            (again, levels, bookings), order = best[after]
            levels += (after & lower[i]).bit_count()
            bookings += (after & ((1 << i) - 1)).bit_count()
            if left == everybody and player.opened_last_time:
                again = 1
            orders.append(((again, levels, bookings), (i, *order)))
        if orders:
            best[left] = min(orders)
    return best[everybody]


def _those(chosen: Iterable[bool]) -> int:
    return sum(1 << i for i, is_chosen in enumerate(chosen) if is_chosen)


def _is_late(player: Player, begin: datetime) -> bool:
    ends_at = begin + timedelta(minutes=player.minutes)
    return player.leaves_by is not None and ends_at > player.leaves_by


def _early(
    players: Sequence[Player], i: int, order: Sequence[int], starts_at: datetime
) -> Early | None:
    """Why player i comes before a lower level: the wish without which they would not."""
    if not _is_early(players, i, order):
        return None
    stays = [replace(p, leaves_by=None) if p is players[i] else p for p in players]
    if not _is_early(stays, i, _best(stays, starts_at)[1]):
        return Early.LEAVES
    if not _is_early(players, i, _best(_may_open(players), starts_at)[1]):
        return Early.OPENED_LAST_TIME
    if not _is_early(players, i, _best(_may_open(stays), starts_at)[1]):
        return Early.LEAVES
    return Early.OTHERS_LEAVE


def _is_early(players: Sequence[Player], i: int, order: Sequence[int]) -> bool:
    later = order[order.index(i) + 1 :]
    return any(players[j].level < players[i].level for j in later)


def _may_open(players: Sequence[Player]) -> list[Player]:
    """The same players, as if nobody had opened last time."""
    return [replace(player, opened_last_time=False) for player in players]
