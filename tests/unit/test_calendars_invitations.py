"""REQUEST, CANCEL and PUBLISH by the restriction tables and examples of RFC 5546."""

from dataclasses import replace

import pytest
from icalendar import Calendar

from bookings.calendars.invitations import cancel, download, request
from tests.unit.calendars_samples import CALLED_OFF, CONSULTATION, GROUP, MARLO, NOOR, SCHOOL


def read(written):
    """METHOD and the one VEVENT of a file."""
    calendar = Calendar.from_ical(written)
    (vevent,) = calendar.events
    return calendar["METHOD"], vevent


def test_calendar_request_has_what_rfc_5546_demands():
    """RFC 5546 section 3.2.2: what a REQUEST must hold, and exactly one attendee: the recipient."""
    method, vevent = read(request(GROUP, SCHOOL, NOOR))
    assert method == "REQUEST"
    assert set(vevent) >= {
        "ATTENDEE",
        "DTSTAMP",
        "DTSTART",
        "ORGANIZER",
        "SEQUENCE",
        "SUMMARY",
        "UID",
    }
    assert vevent["ATTENDEE"] == "mailto:noor.ashgrove@rowanmere.example"
    assert dict(vevent["ATTENDEE"].params) == {
        "CN": "Noor Ashgrove",
        "PARTSTAT": "ACCEPTED",
        "RSVP": "FALSE",
    }
    assert vevent["ORGANIZER"] == "mailto:lessons@rowanmere.example"


def test_calendar_request_never_carries_a_cancelled_meeting():
    """RFC 5546 section 3.2.2: STATUS is TENTATIVE or CONFIRMED in a REQUEST."""
    with pytest.raises(ValueError, match="cancel"):
        request(CALLED_OFF, SCHOOL, NOOR)


def test_calendar_sequence_rises_from_first_to_cancelled():
    """The shape of RFC 5546 sections 4.1.1 to 4.1.3: 0, changed 1, cancelled 2, one UID all the
    way.
    """
    told = [
        read(request(CONSULTATION, SCHOOL, NOOR)),
        read(request(replace(CONSULTATION, sequence=1), SCHOOL, NOOR)),
        read(cancel(replace(CONSULTATION, sequence=2), SCHOOL, NOOR, whole=True)),
    ]
    assert [(method, vevent["SEQUENCE"], vevent["STATUS"]) for method, vevent in told] == [
        ("REQUEST", 0, "CONFIRMED"),
        ("REQUEST", 1, "CONFIRMED"),
        ("CANCEL", 2, "CANCELLED"),
    ]
    assert {vevent["UID"] for _, vevent in told} == {CONSULTATION.uid}


def test_calendar_cancel_of_one_person_has_no_status():
    """RFC 5546 section 4.2.10: who is removed gets a CANCEL without STATUS; the meeting itself goes
    on.
    """
    method, vevent = read(cancel(replace(GROUP, sequence=4), SCHOOL, MARLO, whole=False))
    assert (method, vevent["SEQUENCE"], vevent["ATTENDEE"]) == (
        "CANCEL",
        4,
        f"mailto:{MARLO.email}",
    )
    assert "STATUS" not in vevent


@pytest.mark.parametrize("whole", [True, False])
def test_calendar_cancel_takes_the_join_address_away(whole):
    """Who is no longer booked is not handed the way into the meeting again."""
    assert b"meet.rowanmere.example" not in cancel(CONSULTATION, SCHOOL, NOOR, whole=whole)


def test_calendar_download_is_published_without_attendee():
    """RFC 5546 section 3.2.1: PUBLISH names the organizer and must not name attendees."""
    method, vevent = read(download(CONSULTATION, SCHOOL))
    assert method == "PUBLISH"
    assert "ORGANIZER" in vevent
    assert "ATTENDEE" not in vevent
