"""The checker of races for exchanges of weekly places: what is legal passes, and faults made on
purpose are caught.
"""

from dataclasses import replace

from tests.races.desk.book_rows import Books, Exchange, Move, WeeklyTime
from tests.races.events import Event
from tests.races.state import State
from tests.unit.plain_desk import PlainDesk
from tests.unit.race_histories import kinds, together

MONDAY, TUESDAY = (1, 0, 600), (1, 1, 600)
ASKED = Exchange(1, (Move(1, 1, MONDAY, TUESDAY), Move(2, 2, TUESDAY, MONDAY)))
OWN = (WeeklyTime(1, MONDAY), WeeklyTime(2, TUESDAY))
EXCHANGED = (WeeklyTime(1, TUESDAY), WeeklyTime(2, MONDAY))


def reading(*yes: int, why: str = "", times: tuple[WeeklyTime, ...] = OWN) -> State:
    """The two families of the exchange, who have said so, and the times of their places."""
    exchange = ASKED._replace(yes=frozenset(yes), why=why)
    books = Books(exchanges=frozenset([exchange]), times=frozenset(times))
    return replace(PlainDesk().state(), books=books)


def said(verb: str, move: int, called: float = 0.0, code: str = "") -> Event:
    sent = {"exchange": 1, "move": move, "student": move}
    body = {"code": code} if code else {"id": move}
    return Event(move, verb, sent, called, called + 1, 409 if code else 200, body)


YES = [said("say-yes", 1), said("say-yes", 2)]


def test_with_the_last_yes_both_places_change_hands() -> None:
    """A second yes before that changes nothing, and a no after it is too late."""
    after = reading(1, 2, why="placed", times=EXCHANGED)
    late = said("say-no", 1, 2.0, "offer-ended")
    assert kinds([YES[0], *YES, late], reading(), after) == set()


def test_a_no_ends_it_whoever_has_agreed() -> None:
    """The other family's yes came before it, or is refused."""
    no = said("say-no", 2)
    assert kinds([YES[0], no], reading(), reading(1, why="declined")) == set()
    refused = said("say-yes", 1, 0.0, "offer-ended")
    assert kinds([refused, no], reading(), reading(why="declined")) == set()


def test_a_half_exchange_is_caught() -> None:
    """One family has the other's time, which nobody has given up; or neither has moved."""
    half = reading(1, 2, why="placed", times=(EXCHANGED[0], OWN[1]))
    none = reading(1, 2, why="placed")
    assert kinds(YES, reading(), half) == kinds(YES, reading(), none) == {"not-linearisable"}


def test_an_exchange_that_one_family_has_not_agreed_to_is_caught() -> None:
    """One yes of two."""
    after = reading(1, why="placed", times=EXCHANGED)
    assert kinds(YES[:1], reading(), after) == {"not-linearisable"}


def test_the_last_yes_and_a_no_that_both_succeed_are_caught() -> None:
    """The places changed hands, or did not: one of the two was told otherwise."""
    events = together([*YES, said("say-no", 2)])
    placed = reading(1, 2, why="placed", times=EXCHANGED)
    assert kinds(events, reading(), placed) == {"acked-lost"}
    declined = reading(1, 2, why="declined")
    assert kinds(events, reading(), declined) == {"not-linearisable"}


def test_an_answer_that_nothing_forbids_is_not_refused() -> None:
    """The exchange is open from first to last; and what was acknowledged is kept."""
    refused = said("say-yes", 1, 0.0, "offer-ended")
    assert kinds([refused], reading(), reading()) == {"false-refusal"}
    assert kinds(YES[:1], reading(), reading()) == {"acked-lost"}
