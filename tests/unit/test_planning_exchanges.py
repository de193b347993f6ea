"""Exchanges: cycles of any length, no better outcome for any group, nothing to gain by lying."""

import random
from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import combinations, permutations, product

import networkx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.errors import Refused
from bookings.domain.planning.exchanges import Exchange, Move, WeeklyTime, exchanges
from tests import profiles

Orders = Mapping[int, tuple[int, ...]]
Outcome = dict[int, int]
"""Which place each holder of a place has in the end."""


def time_of(place: int, *wishes: int) -> WeeklyTime:
    """Half an hour with instructor 1, who teaches every level, held by a student of level 3."""
    return WeeklyTime(place, 30, 1, 3, 1, 10, (1,), wishes)


def outcome(orders: Orders) -> Outcome:
    """What the exchanges of these orders come to."""
    found = {place: place for place in orders}
    for exchange in exchanges([time_of(place, *wishes) for place, wishes in orders.items()]):
        found |= {move.place_id: move.takes_id for move in exchange.moves}
    return found


def rank(orders: Orders, place: int, takes: int) -> int:
    """How well a place suits: 0 is best; the own one is worse than every wish, others worse yet."""
    ranked = (*orders[place], place)
    return ranked.index(takes) if takes in ranked else len(ranked)


def orders_over(others: Iterable[int]) -> list[tuple[int, ...]]:
    """Every strict order of some of these places."""
    others = list(others)
    return [order for size in range(len(others) + 1) for order in permutations(others, size)]


def some_orders(chance: random.Random, families: int) -> dict[int, tuple[int, ...]]:
    places = list(range(1, families + 1))
    return {
        place: tuple(chance.sample([p for p in places if p != place], chance.randrange(families)))
        for place in places
    }


def a_group_does_better(orders: Orders, reached: Outcome) -> bool:
    """Whether some families could give each other their own places so that none does worse and one
    better: all groups, all ways.
    """
    for size in range(1, len(orders) + 1):
        for group in combinations(orders, size):
            before = [rank(orders, place, reached[place]) for place in group]
            for way in permutations(group):
                after = [rank(orders, *both) for both in zip(group, way, strict=True)]
                is_worse = any(new > old for new, old in zip(after, before, strict=True))
                if after != before and not is_worse:
                    return True
    return False


def a_cycle_does_better(orders: Orders, reached: Outcome) -> bool:
    """The same, for more families: a cycle along places that are no worse, one of them better."""
    if any(rank(orders, p, reached[p]) > rank(orders, p, p) for p in orders):
        return True
    graph, better = networkx.DiGraph(), []
    graph.add_nodes_from(orders)
    for place, to in permutations(orders, 2):
        here, there = rank(orders, place, reached[place]), rank(orders, place, to)
        if there <= here:
            graph.add_edge(place, to)
        if there < here:
            better.append((place, to))
    together = list(networkx.strongly_connected_components(graph))
    return any(one >= {place, to} for place, to in better for one in together)


def test_two_families_who_want_each_other_s_time_take_it() -> None:
    """The shortest cycle; who is wanted by nobody keeps their place."""
    found = exchanges([time_of(7, 4), time_of(4, 7), time_of(5, 7, 4)])
    assert found == (Exchange((Move(4, 7), Move(7, 4))),)


def test_a_cycle_may_have_any_length() -> None:
    """Forty families, each of whom wants the next one's time, are one exchange."""
    (found,) = exchanges([time_of(place, place % 40 + 1) for place in range(1, 41)])
    assert len(found.moves) == 40
    assert [move.takes_id for move in found.moves] == [*range(2, 41), 1]


def test_the_second_best_is_taken_where_the_best_is_gone() -> None:
    """1 and 2 take each other's time; 3 wants 1's first and then 4's, and 4 wants 3's."""
    found = exchanges([time_of(1, 2), time_of(2, 1), time_of(3, 1, 4), time_of(4, 3)])
    assert found == (
        Exchange((Move(1, 2), Move(2, 1))),
        Exchange((Move(3, 4), Move(4, 3))),
    )


def test_nobody_and_nothing_wished_is_no_exchange() -> None:
    """No families, and families who are content."""
    assert exchanges([]) == ()
    assert exchanges([time_of(1), time_of(2)]) == ()


@pytest.mark.parametrize(
    "times",
    [
        [time_of(1), time_of(1)],
        [time_of(1, 2, 2), time_of(2)],
        [time_of(1, 1)],
        [time_of(1, 9)],
        [time_of(1, 2), replace(time_of(2), minutes=45)],
        [time_of(1, 2), replace(time_of(2), instructor_id=8)],
        [time_of(1, 2), replace(time_of(2), lowest_level=4)],
        [time_of(1, 2), replace(time_of(2), highest_level=2)],
    ],
)
def test_an_order_that_cannot_be_is_refused(times: list[WeeklyTime]) -> None:
    """A place twice, a wish twice, for the own or an unknown time; another length, an instructor
    who is not accepted, levels above and below.
    """
    with pytest.raises(Refused) as refused:
        exchanges(times)
    assert refused.value.code == "invalid"


def test_no_other_outcome_stands_against_every_group_of_up_to_five() -> None:
    """Every outcome of small schools beside every group and every way to share its own places: the
    exchanges alone are left. Known from memory as the unique core under strict orders.
    """
    chance = random.Random(1974)
    for number in range(500 if profiles.is_thorough() else 60):
        orders = some_orders(chance, 2 + number % 4)
        ways = (dict(zip(orders, way, strict=True)) for way in permutations(orders))
        assert [way for way in ways if not a_group_does_better(orders, way)] == [outcome(orders)]


def test_no_other_outcome_stands_in_schools_of_up_to_seven() -> None:
    """All outcomes of six and seven families; a group that does better holds a cycle that does."""
    chance = random.Random(1977)
    for number in range(200 if profiles.is_thorough() else 20):
        orders = some_orders(chance, 6 + number % 2)
        ways = (dict(zip(orders, way, strict=True)) for way in permutations(orders))
        assert [way for way in ways if not a_cycle_does_better(orders, way)] == [outcome(orders)]


def test_both_ways_to_look_for_a_better_group_agree() -> None:
    """Every group by hand beside cycles in a graph of networkx, on random outcomes."""
    chance = random.Random(5)
    for _ in range(300):
        orders = some_orders(chance, chance.randint(1, 5))
        way = dict(zip(orders, chance.sample(list(orders), len(orders)), strict=True))
        assert a_group_does_better(orders, way) == a_cycle_does_better(orders, way)


@pytest.mark.heavy
def test_a_false_order_never_gains() -> None:
    """All orders of four families, and for each family every other order it could give."""
    lists = {place: orders_over(p for p in range(1, 5) if p != place) for place in range(1, 5)}
    reached = {
        given: outcome(dict(zip(lists, given, strict=True))) for given in product(*lists.values())
    }
    for orders, truly in reached.items():
        for at, place in enumerate(lists):
            true = (*orders[at], place)
            for false in lists[place]:
                got = reached[(*orders[:at], false, *orders[at + 1 :])][place]
                assert got not in true[: true.index(truly[place])]


def test_a_false_order_never_gains_among_three() -> None:
    """The same for three families."""
    lists = {place: orders_over(p for p in range(1, 4) if p != place) for place in range(1, 4)}
    for given_orders in product(*lists.values()):
        orders = dict(zip(lists, given_orders, strict=True))
        truly = outcome(orders)
        for place, others in lists.items():
            for false in others:
                got = outcome({**orders, place: false})[place]
                assert rank(orders, place, got) >= rank(orders, place, truly[place])


@given(seed=st.integers(0, 10**9))
def test_other_numbers_give_the_same_exchanges(seed: int) -> None:
    """Each place has another number, and the families come in another order."""
    chance = random.Random(seed)
    orders = some_orders(chance, chance.randint(1, 9))
    numbers = dict(zip(orders, chance.sample(range(100), len(orders)), strict=True))
    renamed = {numbers[p]: tuple(numbers[w] for w in orders[p]) for p in reversed(list(orders))}
    assert outcome(renamed) == {numbers[p]: numbers[to] for p, to in outcome(orders).items()}
    assert outcome(orders) == outcome(orders)


@given(seed=st.integers(0, 10**9))
def test_nobody_ends_worse_than_they_began(seed: int) -> None:
    """Each family keeps its own time or has one that it named, and every place has one family."""
    chance = random.Random(seed)
    orders = some_orders(chance, chance.randint(1, 12))
    reached = outcome(orders)
    assert sorted(reached.values()) == sorted(orders)
    assert all(reached[place] in (*orders[place], place) for place in orders)
