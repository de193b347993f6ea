"""Each known clock change: a time in its gap is never offered, a time in its overlap is offered
twice.
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import available_timezones

import pytest

from bookings.domain.errors import Refused
from bookings.domain.hours import DatedWindow, TeachingTime, teachable
from bookings.domain.instants import instants, resolve
from bookings.domain.timeline import Horizon, periods
from bookings.domain.zones import is_known
from tests.unit import brute

GOLDEN = Path(__file__).parents[1] / "golden" / "tz_transitions_2026_2027.txt"
STEP = timedelta(minutes=5)


def offset(text: str) -> timedelta:
    """ "-03:30" as a length of time."""
    hours, minutes = int(text[1:3]), int(text[4:6])
    return timedelta(hours=hours, minutes=minutes) * (-1 if text[0] == "-" else 1)


def golden_changes() -> list[tuple[str, datetime, timedelta, timedelta]]:
    """(zone, instant, offset before, offset from then on) of each line of the golden file."""
    found, zone = [], ""
    for line in GOLDEN.read_text().splitlines():
        if line.startswith("## "):
            zone = line.split()[1]
        elif line.startswith("   "):
            instant, _, before, _, after = line.split()[:5]
            found.append((zone, datetime.fromisoformat(instant), offset(before), offset(after)))
    return found


def check_change(zone: str, instant: datetime, before: timedelta, after: timedelta) -> None:
    """The wall times just around and every five minutes inside a change, as the two offsets imply
    them.
    """
    wall = instant.replace(tzinfo=None)
    low, high = sorted((wall + before, wall + after))
    one = timedelta(minutes=1)
    times = [
        low - one,
        low,
        *(low + k * STEP for k in range(1, -((low - high) // STEP))),
        high - one,
        high,
    ]
    for time in dict.fromkeys(times):
        inside = low <= time < high
        minute = time.hour * 60 + time.minute
        if not inside:
            expected = [(time - (before if time < low else after)).replace(tzinfo=UTC)]
        elif after > before:
            expected = []
        else:
            expected = [(time - before).replace(tzinfo=UTC), (time - after).replace(tzinfo=UTC)]
        whole_minute = time.replace(second=0)
        assert whole_minute == time, "all changes since 1972 fall on whole minutes"
        assert list(instants(time.date(), minute, zone)) == expected, (zone, time)
        if expected:
            assert [resolve(time, fold, zone) for fold in (0, 1)] == [expected[0], expected[-1]], (
                zone,
                time,
            )
        else:
            with pytest.raises(Refused) as refusal:
                resolve(time, 0, zone)
            assert refusal.value.code == "clock-gap"


def test_the_golden_file_is_read_whole():
    """The zones that change are all there, so the checks below do check something (IANA 2026f)."""
    changes = golden_changes()
    assert len(changes) > 80
    assert (
        "Pacific/Apia",
        datetime(2011, 12, 30, 10, tzinfo=UTC),
        timedelta(hours=-10),
        timedelta(hours=14),
    ) in changes


@pytest.mark.parametrize(
    "change", golden_changes(), ids=lambda change: f"{change[0]} {change[1]:%Y-%m-%d}"
)
def test_each_recorded_change_is_read_right(change):
    """IANA 2026f, confirmed by zdump: gaps resolve to nothing, overlaps to two instants, changes of
    name alone to one.
    """
    zone, instant, before, after = change
    if before == after:
        time = instant.replace(tzinfo=None) + after
        assert instants(time.date(), time.hour * 60 + time.minute, zone) == (instant,)
    else:
        check_change(*change)


@pytest.mark.parametrize(
    "change", golden_changes(), ids=lambda change: f"{change[0]} {change[1]:%Y-%m-%d}"
)
def test_hours_across_each_recorded_change_lose_the_gap_and_keep_the_overlap(change):
    """A window that covers the change exactly holds no time in a gap, and both passes of an
    overlap.
    """
    zone, instant, before, after = change
    low, high = sorted(
        (instant.replace(tzinfo=None) + before, instant.replace(tzinfo=None) + after)
    )
    extra = []
    for day in range((high.date() - low.date()).days + 1):
        on = low.date() + timedelta(days=day)
        start = datetime.combine(on, datetime.min.time())
        opens, closes = (
            int((max(start, min(time, start + timedelta(days=1))) - start).total_seconds()) // 60
            for time in (low, high)
        )
        if opens < closes:
            extra.append(DatedWindow(on, opens, closes, zone))
    horizon = Horizon.spanning(instant - timedelta(hours=30), instant + timedelta(hours=30))
    found = periods(teachable(TeachingTime(extra=tuple(extra)), horizon), horizon)
    overlap = max(before - after, timedelta())
    assert [(period.starts_at, period.ends_at) for period in found] == (
        [(instant - overlap, instant + overlap)] if overlap else []
    )


def test_every_gap_and_fold_of_every_zone_from_2026_to_2030():
    """All zones of the pinned IANA copy, all changes of five years, found by probing alone."""
    checked = 0
    for zone in sorted(filter(is_known, available_timezones())):
        for change in brute.clock_changes(
            zone, datetime(2026, 1, 1, tzinfo=UTC), datetime(2031, 1, 1, tzinfo=UTC)
        ):
            check_change(zone, *change)
            checked += 1
    assert checked > 1500
