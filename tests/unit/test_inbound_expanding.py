"""Expanding in a process of its own: what is broken or too much is refused in words and in time;
nothing else gets in or out.
"""

import resource
import time
from datetime import UTC, datetime, timedelta

import pytest

from bookings.calendars.busy import busy
from bookings.domain.errors import Refused
from bookings.domain.timeline import Period
from bookings.inbound import children
from bookings.inbound.expanding import expand
from tests.unit.broken_calendars import BOMBS, BROKEN
from tests.unit.calendars_samples import calendar_of, entry

NOW = datetime(2027, 3, 1, 9, tzinfo=UTC)
PATIENCE = 2.0


def processor_seconds() -> float:
    """What ended child processes have used; on an idle machine that is the time somebody waited for
    them.
    """
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_calendar_is_refused(name: str) -> None:
    """In words of our own, within two seconds of processor time, and with nothing that could be
    stored.
    """
    began = time.process_time()
    with pytest.raises(Refused) as refused:
        busy(BROKEN[name], "Europe/Dublin", NOW, NOW + timedelta(days=366))
    assert refused.value.code in ("calendar-unreadable", "calendar-too-much")
    assert refused.value.detail.isprintable()
    assert time.process_time() - began < PATIENCE


@pytest.mark.parametrize("name", BOMBS)
def test_a_bomb_is_refused(name: str) -> None:
    """What would take hours, or all memory, takes less than two seconds of processor time and is
    called what it is.
    """
    before = processor_seconds()
    with pytest.raises(Refused) as refused:
        expand(BOMBS[name], "Europe/Dublin", NOW)
    assert refused.value.code == "calendar-too-much"
    assert processor_seconds() - before < PATIENCE


@pytest.mark.parametrize(
    "name",
    [
        "nothing",
        "a picture",
        "cut in the middle",
        "a duration beyond the calendar",
        "entries without end",
    ],
)
def test_a_refusal_comes_out_of_the_process_as_it_is(name: str) -> None:
    """The same code and the same words as inside."""
    with pytest.raises(Refused) as inside:
        busy(BROKEN[name], "Europe/Dublin", NOW, NOW + timedelta(days=366))
    with pytest.raises(Refused) as outside:
        expand(BROKEN[name], "Europe/Dublin", NOW)
    assert str(outside.value) == str(inside.value)


def test_enough_broken_calendars() -> None:
    """At least forty, all different."""
    assert len(set(BROKEN.values())) == len(BROKEN) >= 40


def test_a_good_calendar_comes_back_as_periods() -> None:
    """In UTC, for a year and a day, with the number of unknown zones."""
    found = expand(
        calendar_of(
            entry(
                "DTSTART;TZID=Nowhere:20270302T100000",
                "DURATION:PT50M",
                "RRULE:FREQ=WEEKLY;COUNT=2",
            )
        ),
        "America/New_York",
        NOW,
    )
    starts_at = datetime(2027, 3, 2, 15, tzinfo=UTC)
    assert found.periods[0] == Period(starts_at, starts_at + timedelta(minutes=50))
    assert (len(found.periods), found.until, found.unknown_zones) == (
        2,
        NOW + timedelta(days=366),
        1,
    )


def test_a_full_calendar_fits_into_the_limits() -> None:
    """Ten years of entries: 2,000 single ones with long texts and 20 weekly ones, within the same
    limits.
    """
    long = "DESCRIPTION:" + "y" * 150
    single = (
        entry(
            f"UID:s{i}",
            (
                "DTSTART;"
                f"TZID=Europe/Dublin:{2018 + i % 10}{1 + i % 12:02}{1 + i % 28:02}T{i % 23:02}0000"
            ),
            "DURATION:PT25M",
            long,
        )
        for i in range(2000)
    )
    weekly = (
        entry(
            f"UID:w{i}",
            f"DTSTART;TZID=Europe/Dublin:2022030{1 + i % 7}T{i % 24:02}0000",
            "DURATION:PT25M",
            "RRULE:FREQ=WEEKLY",
        )
        for i in range(20)
    )
    assert len(expand(calendar_of(*single, *weekly), "Europe/Dublin", NOW).periods) > 800


def test_the_process_knows_no_secret_and_writes_no_file(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its environment is empty, whatever this one's holds."""
    monkeypatch.setenv("SECRET_KEY", "canary")
    seen = {}

    def run(command: list[str], **how: object) -> object:
        seen.update(how)
        return type("Done", (), {"returncode": 0, "stdout": b""})

    monkeypatch.setattr(children.subprocess, "run", run)
    with pytest.raises(Refused, match="too long or too much memory"):
        expand(calendar_of(), "Europe/Dublin", NOW)
    assert seen["env"] == {}


def test_a_process_that_hangs_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    """By the wall clock, where it does not even use the processor."""
    monkeypatch.setattr(children, "PATIENCE", 0.05)
    began = time.monotonic()
    with pytest.raises(Refused, match="too long"):
        expand(calendar_of(), "Europe/Dublin", NOW)
    assert time.monotonic() - began < PATIENCE
