"""The minimum to run of a group meeting: what it may be."""

from datetime import UTC, datetime, timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.minimums import Minimum, check_minimum

NOW = datetime(2027, 3, 1, 9, tzinfo=UTC)
STARTS_AT = NOW + timedelta(days=5)


@pytest.mark.parametrize(
    ("players", "hours", "code"),
    [(0, 24, "invalid"), (5, 24, "invalid"), (3, 120, "invalid"), (3, 0, "past")],
)
def test_a_minimum_that_cannot_be_met_is_refused(players: int, hours: int, code: str) -> None:
    """None at all, above the four places, decided at the start, decided already."""
    wanted = Minimum(players, NOW + timedelta(hours=hours))
    with pytest.raises(Refused) as caught:
        check_minimum(wanted, places=4, starts_at=STARTS_AT, now=NOW)
    assert caught.value.code == code


def test_every_place_may_be_needed_until_just_before_the_start() -> None:
    """Four of four, decided a minute before."""
    wanted = Minimum(4, STARTS_AT - timedelta(minutes=1))
    check_minimum(wanted, places=4, starts_at=STARTS_AT, now=NOW)
