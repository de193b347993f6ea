"""The order of players: what it keeps, what it weighs, and that no order is better."""

import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import accumulate, combinations, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.errors import Refused
from bookings.domain.planning.agenda import Agenda, Early, Player, Value, agenda, too_late
from tests import profiles

START = datetime(2027, 3, 6, 15, tzinfo=UTC)


def after(minutes: int) -> datetime:
    return START + timedelta(minutes=minutes)


def players(*levels: int, minutes: int = 15) -> list[Player]:
    """Players of these levels, numbered from 1 in the order of their bookings."""
    return [Player(i, level, minutes) for i, level in enumerate(levels, 1)]


def ids(found: Agenda) -> list[int]:
    return [turn.student_id for turn in found.turns]


def orders_in_time(those: Sequence[Player]) -> list[tuple[Player, ...]]:
    """Every order in which nobody leaves before the end of their turn."""
    found = []
    for order in permutations(those):
        ends = accumulate(player.minutes for player in order)
        leaving = zip(order, ends, strict=True)
        if all(p.leaves_by is None or after(end) <= p.leaves_by for p, end in leaving):
            found.append(order)
    return found


def value_of(order: Sequence[Player], booked: Sequence[Player]) -> Value:
    """The value of an order, pair by pair."""
    pairs = list(combinations(order, 2))
    return (
        int(order[0].opened_last_time),
        sum(first.level > second.level for first, second in pairs),
        sum(booked.index(first) > booked.index(second) for first, second in pairs),
    )


def some_players(chance: random.Random, most: int = 8) -> list[Player]:
    """Up to `most` players; about one in three has to leave early."""
    found = []
    for i in range(chance.randint(1, most)):
        leaves_by = after(chance.randrange(10, 121, 5)) if chance.random() < 0.35 else None
        level, minutes = chance.randint(1, 6), chance.choice((10, 15, 15, 20))
        found.append(Player(100 - i, level, minutes, leaves_by, chance.random() < 0.2))
    return found


def test_the_lowest_level_plays_first_and_ten_minutes_follow_the_last() -> None:
    """Levels 2, 5, 3 and 7 with 15 minutes each play as 2, 3, 5, 7. Source: TRADE.md 8 (16)."""
    found = agenda(players(2, 5, 3, 7), START)
    assert ids(found) == [1, 3, 2, 4]
    assert [turn.starts_at for turn in found.turns] == [after(m) for m in (0, 15, 30, 45)]
    assert found.ends_at == after(60 + 10)
    assert [turn.early for turn in found.turns] == [None] * 4


def test_who_must_leave_early_may_be_first_and_it_is_shown_why() -> None:
    """Source: TRADE.md 8 (16). The reason names nobody else and no level."""
    two, five, three, seven = players(2, 5, 3, 7)
    found = agenda([two, five, three, replace(seven, leaves_by=after(15))], START)
    assert ids(found) == [4, 1, 3, 2]
    assert [turn.early for turn in found.turns] == [Early.LEAVES, None, None, None]
    assert Early.LEAVES.sentence == ("This turn is early because the player has to leave early.")


def test_leaving_at_the_end_of_the_own_turn_is_in_time() -> None:
    """A level 7 who leaves at 45 minutes plays third, and nobody is moved for less."""
    two, five, three, seven = players(2, 5, 3, 7)
    found = agenda([two, five, three, replace(seven, leaves_by=after(45))], START)
    assert ids(found) == [1, 3, 4, 2]


def test_the_opener_of_last_time_does_not_open_again() -> None:
    """Common practice. The next level opens in their place, and it is said why."""
    two, five, three = players(2, 5, 3)
    found = agenda([replace(two, opened_last_time=True), five, three], START)
    assert ids(found) == [3, 1, 2]
    assert found.turns[0].early is Early.OPENED_LAST_TIME


def test_a_player_alone_opens_again() -> None:
    """The rule about the opener gives way where nobody else can be first."""
    found = agenda([Player(1, 2, 15, opened_last_time=True)], START)
    assert (ids(found), found.value) == ([1], (1, 0, 0))


def test_who_plays_early_for_somebody_else_is_told_so() -> None:
    """A short turn fits before a player who leaves, and the long one of a lower level does not."""
    short, long, leaves = Player(1, 2, 10), Player(2, 1, 30), Player(3, 3, 15, after(25))
    found = agenda([short, long, leaves], START)
    assert ids(found) == [1, 3, 2]
    assert [turn.early for turn in found.turns] == [Early.OTHERS_LEAVE, Early.LEAVES, None]


def test_of_equal_levels_the_earlier_booking_plays_first() -> None:
    """The numbers of the students decide nothing."""
    assert ids(agenda([Player(9, 4, 15), Player(2, 4, 15), Player(5, 4, 15)], START)) == [9, 2, 5]


def test_who_cannot_be_kept_is_named() -> None:
    """Three players cannot all have played after half an hour: the fewest are named."""
    those = [replace(player, leaves_by=after(30)) for player in players(1, 2, 3)]
    with pytest.raises(Refused) as refused:
        agenda([*those, Player(4, 1, 15)], START)
    assert refused.value.code == "no-order"
    assert refused.value.data == {"late": [3]}


@pytest.mark.parametrize(
    ("those", "code"),
    [
        ([], "invalid"),
        (players(*range(1, 14)), "limit-reached"),
        ([Player(1, 2, 0)], "invalid"),
        ([Player(1, 2, 15), Player(1, 3, 15)], "invalid"),
    ],
)
def test_what_is_no_agenda_is_refused(those: list[Player], code: str) -> None:
    """Nobody, thirteen players, a turn without a minute, a player twice."""
    with pytest.raises(Refused) as refused:
        agenda(those, START)
    assert refused.value.code == code


def test_twelve_players_are_ordered() -> None:
    """The greatest agenda: without wishes it is sorted by level, then by booking."""
    those = players(*(3, 1, 2) * 4)
    found = agenda(those, START)
    assert ids(found) == [p.student_id for p in sorted(those, key=lambda p: p.level)]
    assert found.ends_at == after(12 * 15 + 10)


def test_no_order_is_better() -> None:
    """1,000 agendas of up to eight players (a quick run: 100) beside every permutation."""
    chance = random.Random(16)
    ordered = 0
    for number in range(1000 if profiles.is_thorough() else 100):
        those = some_players(chance, most=8 if number % 20 == 0 else 6)
        in_time = orders_in_time(those)
        if not in_time:
            continue
        ordered += 1
        found = agenda(those, START)
        order = tuple(next(p for p in those if p.student_id == i) for i in ids(found))
        assert order in in_time
        assert found.value == value_of(order, those)
        assert found.value == min(value_of(order, those) for order in in_time)
    assert ordered > 50


def test_the_fewest_are_named_who_cannot_be_kept() -> None:
    """500 agendas that nobody can keep beside every set of players whose wishes are dropped."""
    chance, compared = random.Random(17), 0
    while compared < (500 if profiles.is_thorough() else 50):
        those = some_players(chance, most=5)
        if orders_in_time(those):
            continue
        with pytest.raises(Refused) as refused:
            agenda(those, START)
        assert len(refused.value.data["late"]) == fewest_late(those)
        compared += 1


def fewest_late(those: Sequence[Player]) -> int:
    """The size of the smallest set of players whose wishes have to be dropped, from all sets."""
    for size in range(len(those) + 1):
        for dropped in combinations(those, size):
            freed = [replace(p, leaves_by=None) if p in dropped else p for p in those]
            if orders_in_time(freed):
                return size
    raise AssertionError("without wishes every order is in time")


@given(seed=st.integers(0, 10**9))
def test_other_numbers_change_no_value_and_a_plan_is_the_same_each_time(seed: int) -> None:
    """Each student has another number: the same places in the order, the same value."""
    those = some_players(random.Random(seed))
    renamed = [replace(p, student_id=p.student_id * 7 % 101) for p in those]
    if too_late(those, START):
        assert too_late(renamed, START)
        return
    found, other = agenda(those, START), agenda(renamed, START)
    assert found == agenda(those, START)
    assert (other.value, ids(other)) == (found.value, [i * 7 % 101 for i in ids(found)])


@given(seed=st.integers(0, 10**9), later=st.integers(0, 60))
def test_who_can_stay_longer_never_makes_the_order_worse(seed: int, later: int) -> None:
    """Who has to leave does so later: the value is as good or better."""
    those = some_players(random.Random(seed))
    longer = [
        replace(p, leaves_by=p.leaves_by + timedelta(minutes=later)) if p.leaves_by else p
        for p in those
    ]
    assert len(too_late(longer, START)) <= len(too_late(those, START))
    if not too_late(those, START):
        assert agenda(longer, START).value <= agenda(those, START).value
