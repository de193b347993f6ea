"""One name for each zone, from the tables of the pinned time-zone data."""

import pytest

from bookings.domain.zone_names import current_name, current_names, older_names
from bookings.domain.zones import is_known


def test_every_current_name_is_a_zone_and_no_older_name_is_among_them() -> None:
    """The list that people choose from has no second name of the same zone."""
    assert all(is_known(name) for name in current_names())
    assert len(set(current_names())) == len(current_names()) > 400
    assert not set(older_names()) & set(current_names())
    assert set(older_names().values()) <= set(current_names())


@pytest.mark.parametrize(
    ("name", "current"),
    [
        ("Asia/Calcutta", "Asia/Kolkata"),
        ("Europe/Kiev", "Europe/Kyiv"),
        ("US/Eastern", "America/New_York"),
        ("Asia/Katmandu", "Asia/Kathmandu"),
        ("Europe/Stockholm", "Europe/Stockholm"),
        ("UTC", "UTC"),
    ],
)
def test_an_older_name_is_called_by_the_current_one(name: str, current: str) -> None:
    """Source: the links of the IANA database, file `backward`; zone.tab says which names are in use."""
    assert current_name(name) == current
