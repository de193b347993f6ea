"""The VEVENT: times, text and the shape of the lines."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from bookings.calendars.events import Party, to_vevent
from bookings.calendars.feeds import feed
from bookings.calendars.invitations import request
from bookings.calendars.text import clean, one_line
from tests.unit.calendars_samples import CONSULTATION, NOOR, SCHOOL, WINDOW, events, typed_text


def line(time_zone, starts_at):
    """The DTSTART line of a 20-minute meeting."""
    start = datetime.fromisoformat(starts_at)
    event = replace(
        CONSULTATION, time_zone=time_zone, starts_at=start, ends_at=start + timedelta(minutes=20)
    )
    return to_vevent(event).content_line("DTSTART", to_vevent(event)["DTSTART"])


@pytest.mark.parametrize(
    ("starts_at", "written"),
    [
        ("1997-07-14T17:30Z", "DTSTART;TZID=America/New_York:19970714T133000"),
        ("2007-03-11T07:30Z", "DTSTART;TZID=America/New_York:20070311T033000"),
        ("2007-11-04T05:30Z", "DTSTART:20071104T053000Z"),
        ("2007-11-04T06:30Z", "DTSTART:20071104T063000Z"),
        ("2007-11-04T07:30Z", "DTSTART;TZID=America/New_York:20071104T023000"),
    ],
)
def test_calendar_times_of_rfc_5545_section_3_3_5(starts_at, written):
    """The examples of RFC 5545 section 3.3.5: local time with its zone, and UTC where the local
    time would come twice.
    """
    assert line("America/New_York", starts_at) == written


@pytest.mark.parametrize("starts_at", ["2027-11-07T04:50Z", "2027-11-07T06:50Z"])
def test_calendar_start_and_end_share_one_form(starts_at):
    """A meeting that reaches into a repeated hour, or out of it, has both its ends in UTC and needs
    no VTIMEZONE.
    """
    start = datetime.fromisoformat(starts_at)
    event = replace(
        CONSULTATION,
        time_zone="America/New_York",
        starts_at=start,
        ends_at=start + timedelta(minutes=50),
    )
    written = request(event, SCHOOL, NOOR)
    assert b"TZID" not in written
    assert f"DTSTART:{start:%Y%m%dT%H%M%SZ}".encode() in written


def test_calendar_time_in_a_half_hour_repeat_is_utc():
    """Lord Howe Island repeats half an hour only: 01:45 comes twice and is UTC, 01:15 comes once
    and is local.
    """
    assert line("Australia/Lord_Howe", "2027-04-03T15:15Z") == "DTSTART:20270403T151500Z"
    assert (
        line("Australia/Lord_Howe", "2027-04-03T14:05Z")
        == "DTSTART;TZID=Australia/Lord_Howe:20270404T010500"
    )


@given(st.lists(events(), max_size=4, unique_by=lambda event: event.uid))
def test_calendar_reads_back_equal(meetings):
    """Whatever people type, icalendar reads the feed back with the same instants and text."""
    read = {
        str(vevent["UID"]): vevent
        for vevent in Calendar.from_ical(feed("All", "Europe/Dublin", meetings, *WINDOW)).events
    }
    assert set(read) == {event.uid for event in meetings}
    for event in meetings:
        vevent = read[event.uid]
        assert vevent["DTSTART"].dt.astimezone(UTC) == event.starts_at
        assert vevent["DTEND"].dt.astimezone(UTC) == event.ends_at
        assert vevent["DTSTAMP"].dt == event.stamp
        assert (vevent["SEQUENCE"], vevent["STATUS"]) == (event.sequence, event.status)
        assert vevent["SUMMARY"] == one_line(event.summary)
        assert vevent.get("DESCRIPTION", "") == clean(event.description)
        assert vevent.get("LOCATION", "") == vevent.get("CONFERENCE", "") == event.join_address


@given(events(), typed_text)
def test_calendar_lines_are_well_formed(event, name):
    """RFC 5545 section 3.1: CRLF ends every line, no line is longer than 75 octets, UTF-8 is never
    cut, no control characters.
    """
    event = replace(event, status="CONFIRMED")
    for written in (
        request(event, SCHOOL, Party("noor@rowanmere.example", name)),
        feed(name, "Asia/Kathmandu", [event], *WINDOW),
    ):
        assert written.endswith(b"END:VCALENDAR\r\n")
        for octets in written.removesuffix(b"\r\n").split(b"\r\n"):
            assert len(octets) <= 75
            assert not any(
                character < " " or "\x7f" <= character <= "\x9f" for character in octets.decode()
            )
        assert len(written.decode().splitlines()) == written.count(b"\r\n")


def test_calendar_text_is_cleaned():
    """Every kind of line end becomes a newline, other controls go, and half a surrogate pair is
    replaced.
    """
    assert (
        clean("a\r\nb\rc\u2028d\u2029e\x85f\x00\x07\x1b\x7f\x9b\tg\ud800")
        == "a\nb\nc\nd\ne\nf g\ufffd"
    )
    assert one_line(" a\r\n b ") == "a  b"


def test_calendar_text_has_no_byte_order_mark():
    """The mark at the start of pasted text would be lost or kept by the reader's mood; Unicode 16
    section 23.8 takes it for no text.
    """
    assert to_vevent(replace(CONSULTATION, summary="\ufeffHands\ufeff together"))[
        "SUMMARY"
    ] == one_line("\ufeffHands\ufeff together")
    assert clean("\ufeffHands\ufeff together") == "Hands together"


@pytest.mark.parametrize(
    "email",
    [
        *("", "noor", "@b.example", "a@", "noor@a@b", "a..b@c.example", "é@c.example"),
        *("noor@rowanmere.example\r\nBCC:x@y.example", "a@b.example\n", "a b@c.example"),
        *("a,b@c.example", "a(b)@c.example", "<a@c.example>"),
    ],
)
def test_calendar_party_needs_a_plain_address(email):
    """An address that could say more than one thing is refused before it reaches a file or a
    header.
    """
    with pytest.raises(ValueError, match="address"):
        Party(email)


def test_calendar_address_is_a_mailto_uri():
    """RFC 6068 section 2: what means something else in a URI is percent-encoded; the common plus
    stays readable.
    """
    vevent = to_vevent(
        CONSULTATION, Party("noor+harp@rowanmere.example"), Party("a%b?c@rowanmere.example")
    )
    assert vevent["ORGANIZER"] == "mailto:noor+harp@rowanmere.example"
    assert vevent["ATTENDEE"] == "mailto:a%25b%3Fc@rowanmere.example"


def test_calendar_name_hides_no_parameter():
    """Readers take a backslash in a CN for an escape, so one at the end of a name would swallow
    PARTSTAT; it is written as a stroke.
    """
    (vevent,) = Calendar.from_ical(
        request(CONSULTATION, SCHOOL, Party(NOOR.email, "Noor\\"))
    ).events
    assert dict(vevent["ATTENDEE"].params) == {
        "CN": "Noor/",
        "PARTSTAT": "ACCEPTED",
        "RSVP": "FALSE",
    }


def test_calendar_address_holds_no_backslash():
    """RFC 3986 section 2 has none in a URI; readers take two of them in a CONFERENCE for one."""
    event = replace(CONSULTATION, join_address="https://meet.rowanmere.example/\\\\a")
    (vevent,) = Calendar.from_ical(request(event, SCHOOL, NOOR)).events
    assert vevent["CONFERENCE"] == vevent["LOCATION"] == "https://meet.rowanmere.example/%5C%5Ca"


@pytest.mark.parametrize(
    "change",
    [
        {"starts_at": datetime(2027, 3, 15, 21, 0)},
        {"created": datetime(2027, 3, 15, 21, 0)},
        {"ends_at": CONSULTATION.starts_at},
        {"status": "CANCELED"},
    ],
)
def test_calendar_event_refuses_what_no_meeting_is(change):
    """Naive times, an end at the start, an unknown status are the caller's mistakes and say so."""
    with pytest.raises(ValueError, match=CONSULTATION.uid):
        replace(CONSULTATION, **change)
