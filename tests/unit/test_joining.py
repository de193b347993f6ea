"""Who may join a group meeting: each rule by itself, and in the order in which they speak."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest

from bookings.domain.burden import is_night
from bookings.domain.errors import Refused
from bookings.domain.joining import Joinable, Joiner, Place, check_joins
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import PlaceKind, Standing

at = datetime.fromisoformat

NOW = at("2027-03-01T09:00Z")
START = at("2027-03-13T16:00Z")
LASTING = Period(START, START + timedelta(hours=1))
PLAYER, LISTENER = PlaceKind.PLAYER, PlaceKind.LISTENER


def joiner(**fields: Any) -> Joiner:
    values: dict[str, Any] = {
        "id": 1,
        "first_name": "Noor",
        "level": 4,
        "time_zone": "Europe/Dublin",
        "adult_on": None,
        "is_here": True,
        "has_consent": True,
        "places": (),
        "policy": None,
    }
    return Joiner(**{**values, **fields})


def meeting(**fields: Any) -> Joinable:
    values: dict[str, Any] = {
        "id": 7,
        "instructor": "Ilse Quarrow",
        "period": LASTING,
        "is_one_on_one": False,
        "is_cancelled": False,
        "players": 3,
        "listeners": 3,
        "levels": (3, 5),
    }
    return Joinable(**{**values, **fields})


def place(
    of: int, kind: PlaceKind | None, standing: Standing = Standing.HELD, minutes: int = 0
) -> Place:
    shift = timedelta(minutes=minutes)
    period = Period(LASTING.starts_at + shift, LASTING.ends_at + shift)
    return Place(of, kind, standing, period, 1, None)


SYDNEY: dict[str, Any] = {
    "adult_on": date(2034, 6, 1),
    "time_zone": "Australia/Sydney",
    "policy": Policy(),
}


@pytest.mark.parametrize(
    ("student", "group", "code"),
    [
        ({}, {}, None),
        ({}, {"is_one_on_one": True}, "wrong-kind"),
        ({}, {"is_cancelled": True}, "already-ended"),
        ({}, {"period": Period(NOW, NOW + timedelta(hours=1))}, "past"),
        ({"is_here": False}, {}, "already-ended"),
        ({"has_consent": False}, {}, "consent-missing"),
        (SYDNEY, {}, "minor-hours"),
        ({**SYDNEY, "time_zone": "Europe/Dublin"}, {}, None),
        ({**SYDNEY, "adult_on": date(2027, 3, 14)}, {}, None),
        ({"level": 2}, {}, "other-level"),
        ({"level": 3}, {}, None),
        ({"level": 5}, {}, None),
        ({"level": 6}, {}, "other-level"),
        ({}, {"players": 0}, "no-place"),
        ({"places": (place(7, PLAYER),)}, {}, "already-booked"),
        ({"places": (place(7, PLAYER, Standing.OFFERED),)}, {}, "already-booked"),
        ({"places": (place(7, LISTENER),)}, {}, None),
        ({"places": (place(8, PLAYER),)}, {}, "own-clash"),
        ({"places": (place(8, None),)}, {}, "own-clash"),
        ({"places": (place(8, PLAYER, Standing.OFFERED),)}, {}, None),
        ({"places": (place(8, PLAYER, minutes=60),)}, {}, None),
        ({"places": (place(8, PLAYER, minutes=-60),)}, {}, None),
        ({"places": (place(8, PLAYER, minutes=59),)}, {}, "own-clash"),
        ({"places": (place(8, PLAYER, minutes=-59),)}, {}, "own-clash"),
    ],
)
def test_each_rule_refuses_what_it_is_there_for(
    student: dict[str, Any], group: dict[str, Any], code: str | None
) -> None:
    """A player place, by a family."""
    if code is None:
        check_joins(joiner(**student), meeting(**group), PLAYER, now=NOW)
        return
    with pytest.raises(Refused, match=f"^{code}:"):
        check_joins(joiner(**student), meeting(**group), PLAYER, now=NOW)


def test_a_player_does_not_listen_too_but_an_offer_leaves_the_listening() -> None:
    """A held player place closes the listeners' places, an offered one does not."""
    held, offered = place(7, PLAYER), place(7, PLAYER, Standing.OFFERED)
    with pytest.raises(Refused, match="already has a place"):
        check_joins(joiner(places=(held,)), meeting(), LISTENER, now=NOW)
    check_joins(joiner(places=(offered,)), meeting(), LISTENER, now=NOW)


def test_waiting_asks_nothing_of_other_lessons_and_an_admin_nothing_of_the_level() -> None:
    """The clash is settled when a place is taken; who runs the school knows the student."""
    busy = joiner(places=(place(8, PLAYER),), level=9)
    with pytest.raises(Refused, match="levels 3 to 5"):
        check_joins(busy, meeting(), PLAYER, now=NOW, clash=False)
    check_joins(busy, meeting(), PLAYER, now=NOW, clash=False, any_level=True)


def test_listeners_are_of_any_level() -> None:
    """Source: common practice; players are chosen by level, listening is open to all."""
    check_joins(joiner(level=1), meeting(levels=(3, 10)), LISTENER, now=NOW)
    with pytest.raises(Refused, match=r"^other-level:.*choose a listener place"):
        check_joins(joiner(level=1), meeting(levels=(3, 10)), PLAYER, now=NOW)


@pytest.mark.parametrize(
    ("start", "time_zone", "night"),
    [
        ("2027-03-13T21:00Z", "Europe/Dublin", False),
        ("2027-03-13T21:05Z", "Europe/Dublin", True),
        ("2027-03-13T06:55Z", "Europe/Dublin", True),
        ("2027-03-13T07:00Z", "Europe/Dublin", False),
        ("2027-03-13T16:00Z", "Australia/Sydney", True),
        ("2027-03-13T16:00Z", "America/New_York", False),
    ],
)
def test_night_is_from_ten_to_seven(start: str, time_zone: str, night: bool) -> None:
    """Any minute of an hour's meeting, on that wall clock."""
    period = Period(at(start), at(start) + timedelta(hours=1))
    assert is_night(period, time_zone) is night
