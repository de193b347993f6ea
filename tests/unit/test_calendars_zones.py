"""VTIMEZONE: what another reader makes of the rules that a calendar file carries."""

import io
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo, available_timezones

import pytest
from dateutil.tz import tzical
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from bookings.calendars.zones import vtimezone
from bookings.domain.errors import Refused
from tests.unit.calendars_samples import CHANGES, TRANSITIONS

FIRST, LAST = datetime(2026, 1, 1, tzinfo=UTC), datetime(2028, 1, 1, tzinfo=UTC)


def read_by_dateutil(name, first=FIRST, last=LAST):
    """The zone as python-dateutil reads it: an RFC 5545 reader without code of the writer."""
    calendar = Calendar()
    calendar.add_component(vtimezone(name, first, last))
    return tzical(io.StringIO(calendar.to_ical().decode())).get(name)


def is_repeated(local):
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def assert_same_offset(name, read, instant):
    local = instant.astimezone(ZoneInfo(name))
    if not is_repeated(local):
        assert local.replace(tzinfo=read).utcoffset() == local.utcoffset(), (name, instant)


@pytest.mark.parametrize("name", TRANSITIONS)
def test_calendar_zone_has_one_dtstart_for_each_transition(name):
    """Every listed transition is one sub-component with a DTSTART and no rule, and nothing else
    follows the first.
    """
    parts = vtimezone(name, FIRST, LAST).subcomponents
    onsets = [(part["DTSTART"].dt - part.TZOFFSETFROM).replace(tzinfo=UTC) for part in parts]
    assert [onset for onset in onsets if onset > FIRST] == [
        datetime.fromisoformat(at) for at in TRANSITIONS[name]
    ]
    assert onsets[0] <= FIRST
    assert parts[0].name == "STANDARD"
    assert not any({"RRULE", "RDATE", "COMMENT"} & set(part) for part in parts)


@pytest.mark.parametrize("name", TRANSITIONS)
def test_calendar_zone_reads_like_the_zone_at_every_transition(name):
    """One second around each transition, and around the hour that repeats, dateutil reads the
    offset that zoneinfo gives.
    """
    read = read_by_dateutil(name)
    around = [
        timedelta(hours=hours, seconds=seconds)
        for hours in (-1, -0.5, 0, 0.5, 1)
        for seconds in (-1, 0, 1)
    ]
    for instant in [
        FIRST,
        LAST,
        *(at + step for zone, at in CHANGES if zone == name for step in around),
    ]:
        assert_same_offset(name, read, instant)


@given(
    st.sampled_from(sorted(available_timezones() - {"localtime", "Factory"})),
    st.datetimes(datetime(2000, 1, 1), datetime(2035, 1, 1), timezones=st.just(UTC)),
    st.integers(0, 400),
    st.data(),
)
def test_calendar_zone_reads_like_the_zone_from_first_to_last(name, first, days, data):
    """Any IANA zone over any stretch of time is read by dateutil as zoneinfo has it, outside
    repeated hours.
    """
    last = first + timedelta(days=days)
    read = read_by_dateutil(name, first, last)
    for instant in [
        first,
        last,
        *data.draw(
            st.lists(
                st.datetimes(
                    *(at.replace(tzinfo=None) for at in (first, last)), timezones=st.just(UTC)
                )
            )
        ),
    ]:
        assert_same_offset(name, read, instant.replace(microsecond=0))


def test_calendar_zone_accepts_a_change_of_name_alone():
    """Vancouver stops changing its clock on 1 November 2026: tzdata changes the name, the offsets
    are equal.
    """
    last = vtimezone("America/Vancouver", FIRST, LAST).subcomponents[-1]
    assert (last.name, last["TZNAME"]) == ("STANDARD", "MST")
    assert last.TZOFFSETFROM == last.TZOFFSETTO == timedelta(hours=-7)


def test_calendar_zone_calls_dublins_summer_daylight():
    """tzdata counts Dublin's winter as the exception; the file still marks the clock's move forward
    as DAYLIGHT.
    """
    names = [
        (part.name, part["TZNAME"])
        for part in vtimezone("Europe/Dublin", FIRST, LAST).subcomponents
    ]
    assert names == [
        ("STANDARD", "GMT"),
        ("DAYLIGHT", "IST"),
        ("STANDARD", "GMT"),
        ("DAYLIGHT", "IST"),
        ("STANDARD", "GMT"),
    ]


def test_calendar_zone_without_transitions_has_one_standard():
    """Kathmandu keeps its clock: one STANDARD, with the quarter hour in its offset."""
    (part,) = vtimezone("Asia/Kathmandu", FIRST, LAST).subcomponents
    assert (part.name, part.TZOFFSETTO) == ("STANDARD", timedelta(hours=5, minutes=45))


def test_calendar_zone_unknown_is_refused():
    """A name that is no IANA zone never reaches a file."""
    with pytest.raises(Refused, match="unknown-zone"):
        vtimezone("Europe/Rowanmere", FIRST, LAST)
