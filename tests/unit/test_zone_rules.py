"""The zone rules as kept numbers say what the zone database says."""

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.zone_rules import YEARS, ZoneRules, installed, installed_offsets
from bookings.domain.zones import zone
from tests.unit.calendars_samples import TRANSITIONS

ZONES = [
    "America/New_York",
    "Europe/Dublin",
    "Australia/Lord_Howe",
    "Africa/Casablanca",
    "Antarctica/Troll",
    "Asia/Kathmandu",
    "UTC",
]


@given(
    st.sampled_from(ZONES),
    st.datetimes(datetime(2026, 1, 1), datetime(2029, 12, 31), timezones=st.just(UTC)),
)
def test_a_kept_clock_shows_what_zoneinfo_shows(name, instant):
    """Any instant of the four years, to the second."""
    rules = ZoneRules(2026, {name: installed_offsets(name, 2026)})
    instant = instant.replace(microsecond=0)
    assert rules.local(instant, name) == instant.astimezone(zone(name)).replace(tzinfo=None)


def test_the_changes_are_the_published_ones():
    """Offset changes of tzdata 2026f in 2026 and 2027, confirmed by zdump
    (tests/unit/calendars_samples.py); names alone do not count.
    """
    for name, instants in TRANSITIONS.items():
        expected = [
            at for at in instants if (name, at) != ("America/Vancouver", "2026-11-01T09:00Z")
        ]
        kept = [
            datetime.fromtimestamp(since, UTC) for since, _ in installed_offsets(name, 2026)[1:]
        ]
        assert [f"{at:%Y-%m-%dT%H:%MZ}" for at in kept if at.year < 2028] == expected, name


@pytest.mark.parametrize("year", [2025, 2026 + YEARS])
def test_nothing_is_said_of_other_years_and_other_zones(year):
    """Outside the years kept, or of a zone that was not known, nothing is told rather than
    something wrong.
    """
    rules = ZoneRules(2026, {"UTC": installed_offsets("UTC", 2026)})
    assert rules.local(datetime(year, 6, 1, tzinfo=UTC), "UTC") is None
    assert rules.local(datetime(2026, 6, 1, tzinfo=UTC), "Europe/Dublin") is None


def test_a_change_of_rules_is_seen():
    """Vancouver by tzdata 2025b went back to -08:00 on 1 November 2026 (STANDARDS: 2026f keeps
    -07:00).
    """
    vancouver = [(1767225600, -28800), (1772964000, -25200), (1793523600, -28800)]
    old = ZoneRules(
        2026,
        {"Europe/Dublin": installed(2026).offsets["Europe/Dublin"], "America/Vancouver": vancouver},
    )
    assert [
        old.differ(name) for name in ("America/Vancouver", "Europe/Dublin", "Asia/Kathmandu")
    ] == [True, False, True]
    start = datetime(2026, 12, 1, 17, tzinfo=UTC)
    assert old.local(start, "America/Vancouver") == datetime(2026, 12, 1, 9)
    assert old.local(start, "Europe/Dublin") == datetime(2026, 12, 1, 17)
