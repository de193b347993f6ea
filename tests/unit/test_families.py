"""Who answers for a student, on whose clock, and until which instant."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.families import grown_at, is_answered_for, is_child

SECOND = timedelta(seconds=1)


@dataclass(frozen=True)
class Kit:
    adult_on: date | None
    zone: str = "Europe/Dublin"
    user_id: int | None = None


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


@pytest.mark.parametrize(
    ("zone", "instant"),
    [
        ("Pacific/Kiritimati", "2027-03-09T10:00Z"),
        ("Australia/Sydney", "2027-03-09T13:00Z"),
        ("Europe/Dublin", "2027-03-10T00:00Z"),
        ("America/New_York", "2027-03-10T05:00Z"),
        ("Pacific/Pago_Pago", "2027-03-10T11:00Z"),
    ],
)
def test_a_child_is_grown_at_midnight_of_their_own_clock(zone: str, instant: str) -> None:
    """10 March begins at fourteen hours before UTC's in Kiritimati and eleven after it in Pago
    Pago.
    """
    kit = Kit(date(2027, 3, 10), zone)
    assert grown_at(kit) == at(instant)
    assert is_child(kit, at(instant) - SECOND)
    assert not is_child(kit, at(instant))


def test_a_birthday_whose_midnight_the_clocks_skip() -> None:
    """In Beirut 28 March 2027 begins at 01:00: the clocks go forward at midnight (IANA tzdata, rule
    Lebanon).
    """
    kit = Kit(date(2027, 3, 28), "Asia/Beirut")
    assert grown_at(kit) == at("2027-03-27T22:00Z")
    assert is_child(kit, at("2027-03-27T22:00Z") - SECOND)
    assert not is_child(kit, at("2027-03-27T22:00Z"))


@pytest.mark.parametrize(
    ("adult_on", "user_id", "answered"),
    [
        (date(2034, 6, 1), None, True),
        (date(2034, 6, 1), 7, True),
        (date(2027, 3, 1), None, True),
        (date(2027, 3, 1), 7, False),
        (None, None, True),
        (None, 7, False),
    ],
)
def test_bookings_are_the_guardians_until_the_grown_child_has_an_account(
    adult_on: date | None, user_id: int | None, answered: bool
) -> None:
    """Minors always; whoever is of age while there is nobody else to sign in."""
    assert is_answered_for(Kit(adult_on, user_id=user_id), at("2027-03-01T09:00Z")) is answered


def test_somebody_long_of_age_has_no_birthday_to_wait_for() -> None:
    """No date, no instant."""
    assert grown_at(Kit(None)) is None


@given(
    st.dates(date(2026, 1, 1), date(2028, 12, 31)),
    st.sampled_from(["Asia/Beirut", "America/Havana", "Asia/Kathmandu", "Australia/Lord_Howe"]),
    st.integers(-3 * 86_400, 3 * 86_400),
)
def test_the_instant_and_the_rule_are_one(adult_on: date, zone: str, seconds: int) -> None:
    """Before the instant a child, from it on none, whatever the clocks do around it."""
    kit = Kit(adult_on, zone)
    grown = grown_at(kit)
    assert grown is not None
    now = grown + timedelta(seconds=seconds)
    assert is_child(kit, now) == (now < grown)
