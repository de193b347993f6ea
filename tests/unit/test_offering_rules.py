"""What an offering may be."""

from typing import Any

import pytest

from bookings.domain.errors import Refused
from bookings.domain.offerings import check_lengths, check_levels
from bookings.domain.vocabulary import Grid

USUAL: dict[str, Any] = {
    "minutes": 30,
    "grid": Grid.CLOCK,
    "step_minutes": 0,
    "changeover_minutes": None,
}


@pytest.mark.parametrize(
    "allowed",
    [{}, {"minutes": 5}, {"minutes": 480}, {"step_minutes": 240}, {"changeover_minutes": 0}],
)
def test_the_limits_are_allowed(allowed: dict[str, Any]) -> None:
    """Both ends of each."""
    check_lengths(**USUAL | allowed)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"minutes": 0}, "minutes"),
        ({"minutes": 485}, "minutes"),
        ({"minutes": 33}, "minutes"),
        ({"step_minutes": 245}, "step_minutes"),
        ({"step_minutes": -5}, "step_minutes"),
        ({"step_minutes": 7}, "step_minutes"),
        ({"grid": Grid.PACKED, "step_minutes": 30}, "step_minutes"),
        ({"changeover_minutes": 125}, "changeover_minutes"),
        ({"changeover_minutes": -5}, "changeover_minutes"),
        ({"changeover_minutes": 8}, "changeover_minutes"),
    ],
)
def test_lengths_beyond_them_are_refused_at_their_field(wrong: dict[str, Any], field: str) -> None:
    """Starts and ends lie on multiples of five minutes."""
    with pytest.raises(Refused) as refused:
        check_lengths(**USUAL | wrong)
    assert (refused.value.code, refused.value.data["field"]) == ("invalid", field)


@pytest.mark.parametrize("levels", [(0, 5), (1, 11), (6, 5)])
def test_levels_run_from_one_to_ten_the_lowest_first(levels: tuple[int, int]) -> None:
    """One level alone is allowed."""
    check_levels(4, 4)
    with pytest.raises(Refused, match="invalid"):
        check_levels(*levels)
