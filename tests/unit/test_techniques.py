"""Lists of techniques, and their bands."""

import pytest

from bookings.domain.errors import Refused
from bookings.domain.techniques import BAND_WORDS, PRESETS, check_bands, checked_names


@pytest.mark.parametrize("names", PRESETS.values(), ids=list(PRESETS))
def test_each_preset_can_be_saved_as_it_is(names: tuple[str, ...]) -> None:
    """A list to start from keeps the rules for lists."""
    assert checked_names(names) == list(names)


@pytest.mark.parametrize(
    "names", [[], [" "], ["tone"] * 2, ["Tone", "tone"], ["x" * 41], [str(n) for n in range(17)]]
)
def test_a_list_that_cannot_be_is_refused(names: list[str]) -> None:
    """Empty, too long, doubled whatever the case, or a name too long."""
    with pytest.raises(Refused):
        checked_names(names)


@pytest.mark.parametrize("bands", [{"tone": 0}, {"tone": 5}, {"damping": 2}])
def test_bands_are_of_the_list_and_from_1_to_4(bands: dict[str, int]) -> None:
    """Every band has a word, and only techniques of the list have bands."""
    assert list(BAND_WORDS) == [1, 2, 3, 4]
    check_bands({"tone": 4}, ["tone"])
    with pytest.raises(Refused):
        check_bands(bands, ["tone"])
