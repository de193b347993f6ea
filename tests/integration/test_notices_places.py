"""Which message goes to whom when a place is taken, moved or given back."""

from datetime import datetime

import pytest

from bookings import notices
from bookings.models import Meeting
from tests.cast import (
    NOW,
    at,
    give_account,
    make_booking,
    make_instructor,
    make_meeting,
    make_minor,
    make_offering,
    make_student,
    make_user,
)
from tests.integration.noticed import consultation, group
from tests.letters import to, value

__all__ = ["consultation", "group"]

pytestmark = pytest.mark.django_db


def test_a_family_reads_its_own_clock_first_and_the_instructors_second(
    consultation: Meeting,
) -> None:
    """Noor reads New York, then Lord Howe with its own date; Bram reads their own clock first (a
    member of staff writes to both).
    """
    noor = make_student()
    messages = notices.booking_made(make_booking(consultation, noor), now=NOW)
    noors, brams = (
        to(messages, noor.user)["invitation"],
        to(messages, consultation.instructor.user)["invitation"],
    )
    new_york, lord_howe = (
        "Monday 15 March 2027, 17:00–17:25, New York",
        "Tuesday 16 March 2027, 08:00–08:25, Lord Howe",
    )
    assert f"  {new_york}\n  {lord_howe} (Bram’s clock)\n" in noors.body
    assert f"  {lord_howe}\n  {new_york} (Noor’s clock)\n" in brams.body
    assert noors.title == "Booked: Consultation with B. Tolliver, Mon 15 March 17:00, New York"
    assert "Noor Ashgrove, level 4, has booked: Consultation." in brams.body


def test_the_last_moment_to_cancel_is_an_instant_on_the_readers_clock() -> None:
    """A lesson on Sunday 14 March 2027 at 15:00 in New York: 24 elapsed hours before is Saturday
    14:00, across the clock change.
    """
    meeting = make_meeting(make_offering(), make_instructor(), at("2027-03-14T19:00Z"))
    noor = make_student()
    body = to(notices.booking_made(make_booking(meeting, noor), now=NOW), noor.user)[
        "invitation"
    ].body
    assert "You can cancel free of charge until Saturday 13 March, 14:00 (New York)." in body


def test_a_repeated_hour_is_told_apart_by_its_offset() -> None:
    """On 7 November 2027 01:30 comes twice in New York; a mail says which (RFC 5545 section 3.3.5
    leaves readers to guess).
    """
    meeting = make_meeting(make_offering(), make_instructor(), at("2027-11-07T06:30Z"))
    noor = make_student()
    noors = to(notices.booking_made(make_booking(meeting, noor), now=NOW), noor.user)["invitation"]
    assert "Sunday 7 November 2027, 01:30–01:55, New York (UTC-0500)" in noors.body
    assert (
        value(noors.calendar, "DTEND") == "20271107T065500"
    )  # the meeting's zone is Dublin, where nothing repeats then


def test_the_guardian_gets_a_minors_mail_and_the_instructor_no_surname(
    consultation: Meeting,
) -> None:
    """TRADE: guardian on every message to a minor; a union's and a society's advice on teaching
    online under-18s.
    """
    hedda = make_user("Hedda Lindqvist-Reed", "Australia/Sydney")
    posy = make_minor(guardian=hedda)
    give_account(posy)
    messages = notices.booking_made(make_booking(consultation, posy), now=NOW)
    assert {message.recipient for message in messages} == {hedda, consultation.instructor.user}
    invitation = to(messages, hedda)["invitation"]
    assert "Posy has a lesson" in invitation.body
    assert "a guardian must be within reach of Posy during the lesson" in invitation.body
    assert f"mailto:{hedda.email}" == value(invitation.calendar, "ATTENDEE")
    for message in messages:
        assert "Posy" not in message.title + message.calendar
    told = to(messages, consultation.instructor.user)["invitation"]
    assert "Posy, level 2, has booked" in told.body
    assert "Lindqvist" not in told.body + told.calendar


def test_both_guardians_are_written_to_and_none_without_an_active_account(
    consultation: Meeting,
) -> None:
    """Rights are per guardian: a second one is written to as well, a deactivated one never."""
    posy = make_minor()
    second, gone = make_user("Otto Reed"), make_user("Nobody Now", is_active=False)
    for guardian in (second, gone):
        posy.guardianships.create(guardian=guardian)
    assert notices.readers_of(posy, now=NOW) == [
        posy.guardianships.order_by("pk")[0].guardian,
        second,
    ]


def test_who_comes_of_age_gets_their_own_mail() -> None:
    """From the day they are an adult on their own clock their guardian is no longer written to."""
    posy = make_minor(adult_on=at("2027-03-16T00:00Z").date())
    posy.user = make_user("Posy Lindqvist-Reed", "Australia/Sydney")
    assert posy.user not in notices.readers_of(posy, now=at("2027-03-15T12:59Z"))
    assert notices.readers_of(posy, now=at("2027-03-15T13:00Z")) == [posy.user]


def test_a_group_place_is_told_to_the_instructor_in_plain_words(group: Meeting) -> None:
    """Who took a place and how many are left; their calendar already holds the meeting."""
    make_booking(group, make_student("Marlo Vance"))
    told = to(
        notices.booking_made(make_booking(group, make_minor()), now=NOW), group.instructor.user
    )["told"]
    assert not told.calendar
    assert "Posy, level 2, has booked: Hands together." in told.body
    assert "Places left: 2 of 4." in told.body


@pytest.mark.parametrize(
    ("start", "day_before", "hour_before"),
    [
        (
            "2027-03-15T21:00Z",
            "2027-03-14T21:00Z",
            "2027-03-15T20:00Z",
        ),  # 17:00 in New York: both as they fall
        (
            "2027-03-16T10:30Z",
            "2027-03-15T12:00Z",
            None,
        ),  # 06:30: the first at 08:00, the second would come after the start
        (
            "2027-03-16T12:00Z",
            "2027-03-15T12:00Z",
            None,
        ),  # 08:00: the first as it falls, the second is not before the start
        (
            "2027-03-16T12:30Z",
            "2027-03-15T12:30Z",
            "2027-03-16T12:00Z",
        ),  # 08:30: the second waits for 08:00
        (
            "2027-03-16T02:30Z",
            "2027-03-15T12:00Z",
            "2027-03-16T01:30Z",
        ),  # 22:30: the first waits for the morning
        ("2027-03-01T22:00Z", None, "2027-03-01T21:00Z"),  # booked within a day of the start
    ],
)
def test_reminders_keep_quiet_hours(
    start: str, day_before: str | None, hour_before: str | None
) -> None:
    """No reminder between 22:00 and 08:00 of the reader's clock, and none that comes too late to be
    of use.
    """
    meeting, noor = make_meeting(make_offering(), make_instructor(), at(start)), make_student()
    messages = to(notices.booking_made(make_booking(meeting, noor), now=NOW), noor.user)
    due: dict[str, datetime] = {
        kind: message.due_at for kind, message in messages.items() if kind.startswith("reminder")
    }
    wanted = {"reminder-24h": day_before, "reminder-1h": hour_before}
    assert due == {kind: at(instant) for kind, instant in wanted.items() if instant}
