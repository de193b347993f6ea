"""Which message goes to whom when a place is taken, moved or given back."""

from datetime import datetime, timedelta

import pytest

from bookings import notices
from bookings.domain.vocabulary import Ended, Kind, MeetingStatus, Standing
from bookings.models import Booking, Meeting
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
from tests.letters import keep, to, value

pytestmark = pytest.mark.django_db
START = at(
    "2027-03-15T21:00Z"
)  # Monday 17:00 in New York, Tuesday 08:00 on Lord Howe: after the American change, before the Australian


@pytest.fixture
def consultation() -> Meeting:
    return make_meeting(
        make_offering(), make_instructor("Bram Tolliver", "Australia/Lord_Howe"), START
    )


@pytest.fixture
def group() -> Meeting:
    offering = make_offering("Studio class", Kind.GROUP_MEETING, 50)
    return make_meeting(offering, make_instructor(), START, title="Hands together", places=4)


def end(booking: Booking, why: Ended = Ended.CANCELLED_IN_TIME) -> Booking:
    booking.standing, booking.ended_at, booking.ended_why = Standing.ENDED, NOW, why
    booking.save()
    return booking


def test_a_family_reads_its_own_clock_first_and_the_instructors_second(
    consultation: Meeting,
) -> None:
    """Noor reads New York, then Lord Howe with its own date; Bram reads his clock first (a member of staff writes to both)."""
    noor = make_student()
    messages = notices.booking_made(make_booking(consultation, noor), now=NOW)
    hers, his = (
        to(messages, noor.user)["invitation"],
        to(messages, consultation.instructor.user)["invitation"],
    )
    new_york, lord_howe = (
        "Monday 15 March 2027, 17:00–17:25, New York",
        "Tuesday 16 March 2027, 08:00–08:25, Lord Howe",
    )
    assert f"  {new_york}\n  {lord_howe} (Bram’s clock)\n" in hers.body
    assert f"  {lord_howe}\n  {new_york} (Noor’s clock)\n" in his.body
    assert hers.title == "Booked: Consultation with B. Tolliver, Mon 15 March 17:00, New York"
    assert "Noor Ashgrove, level 4, has booked: Consultation." in his.body


def test_the_last_moment_to_cancel_is_an_instant_on_the_readers_clock() -> None:
    """A lesson on Sunday 14 March 2027 at 15:00 in New York: 24 elapsed hours before is Saturday 14:00, across the clock change."""
    meeting = make_meeting(make_offering(), make_instructor(), at("2027-03-14T19:00Z"))
    noor = make_student()
    body = to(notices.booking_made(make_booking(meeting, noor), now=NOW), noor.user)[
        "invitation"
    ].body
    assert "You can cancel free of charge until Saturday 13 March, 14:00 (New York)." in body


def test_a_repeated_hour_is_told_apart_by_its_offset() -> None:
    """On 7 November 2027 01:30 comes twice in New York; a mail says which (RFC 5545 section 3.3.5 leaves readers to guess)."""
    meeting = make_meeting(make_offering(), make_instructor(), at("2027-11-07T06:30Z"))
    noor = make_student()
    hers = to(notices.booking_made(make_booking(meeting, noor), now=NOW), noor.user)["invitation"]
    assert "Sunday 7 November 2027, 01:30–01:55, New York (UTC-0500)" in hers.body
    assert (
        value(hers.calendar, "DTEND") == "20271107T065500"
    )  # the meeting's zone is Dublin, where nothing repeats then


def test_the_guardian_gets_a_minors_mail_and_the_instructor_no_surname(
    consultation: Meeting,
) -> None:
    """TRADE: guardian on every message to a minor; a union's and a society's advice on teaching online under-18s."""
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
    assert notices.family_of(posy, now=NOW) == [
        posy.guardianships.order_by("pk")[0].guardian,
        second,
    ]


def test_who_comes_of_age_gets_her_own_mail() -> None:
    """From the day she is an adult on her own clock her guardian is no longer written to."""
    posy = make_minor(adult_on=at("2027-03-16T00:00Z").date())
    posy.user = make_user("Posy Lindqvist-Reed", "Australia/Sydney")
    assert posy.user not in notices.family_of(posy, now=at("2027-03-15T12:59Z"))
    assert notices.family_of(posy, now=at("2027-03-15T13:00Z")) == [posy.user]


def test_a_group_place_is_told_to_the_instructor_in_plain_words(group: Meeting) -> None:
    """Who took a place and how many are left; her calendar already holds the meeting."""
    make_booking(group, make_student("Marlo Vance"))
    told = to(
        notices.booking_made(make_booking(group, make_minor()), now=NOW), group.instructor.user
    )["told"]
    assert not told.calendar
    assert "Posy, level 2, has booked: Hands together." in told.body
    assert "Places left: 2 of 4." in told.body


def test_sequence_rises_over_a_removal_and_a_return(group: Meeting) -> None:
    """Request 0, cancel 1, request 2 (RFC 5546 section 2.1.4); a removal says no STATUS (section 3.2.5), and the UID stays."""
    noor = make_student()
    booking = make_booking(group, noor)
    first = to(keep(notices.booking_made(booking, now=NOW), NOW), noor.user)["invitation"]
    removed = to(keep(notices.booking_ended(end(booking), now=NOW), NOW), noor.user)["cancellation"]
    back = to(keep(notices.booking_made(make_booking(group, noor), now=NOW), NOW), noor.user)[
        "invitation"
    ]
    assert [value(message.calendar, "SEQUENCE") for message in (first, removed, back)] == [
        "0",
        "1",
        "2",
    ]
    assert value(removed.calendar, "STATUS") is None
    assert {value(message.calendar, "UID") for message in (first, removed, back)} == {
        str(group.uid)
    }


def test_canary_who_is_out_no_longer_reads_the_join_address(group: Meeting) -> None:
    """The address is for those booked: neither the words nor the calendar of a cancellation hold it."""
    noor = make_student()
    booking = make_booking(group, noor)
    assert (
        group.join_address
        in to(keep(notices.booking_made(booking, now=NOW), NOW), noor.user)["invitation"].body
    )
    out = to(notices.booking_ended(end(booking), now=NOW), noor.user)["cancellation"]
    assert group.join_address not in out.body + out.calendar


def test_an_offer_that_ended_leaves_nothing_in_a_calendar(group: Meeting) -> None:
    """Who never said yes was sent nothing for her calendar, so there is nothing to cancel there; the instructor is not troubled."""
    noor = make_student()
    offer = make_booking(group, noor, standing=Standing.OFFERED, answer_by=NOW + timedelta(hours=5))
    messages = notices.booking_ended(end(offer, Ended.LAPSED), now=NOW)
    assert [(message.recipient, message.kind, message.calendar) for message in messages] == [
        (noor.user, "told", "")
    ]
    assert "not answered in time" in messages[0].body


def test_a_brothers_place_stays_in_the_calendar_that_both_share(group: Meeting) -> None:
    """Two children of one guardian: when one leaves, her one entry stays, changed and not cancelled; reminders name who is left."""
    hedda = make_user("Hedda Lindqvist-Reed", "Australia/Sydney")
    posy, kit = make_minor(guardian=hedda), make_minor("Kit Lindqvist-Reed", guardian=hedda)
    first = make_booking(group, posy)
    keep(notices.booking_made(first, now=NOW), NOW)
    both = to(keep(notices.booking_made(make_booking(group, kit), now=NOW), NOW), hedda)
    assert "Kit’s and Posy’s meeting is coming up" in both["reminder-24h"].body
    left = to(keep(notices.booking_ended(end(first), now=NOW), NOW), hedda)
    assert "cancellation" not in left
    assert "Kit’s place stays" in left["invitation"].body
    assert "Posy" not in left["reminder-24h"].body


def test_two_moves_and_the_end_are_one_entry_with_a_rising_sequence(consultation: Meeting) -> None:
    """TRADE scenario 23: one UID, updated twice, at last cancelled for good, SEQUENCE 0, 1, 2, 3."""
    noor = make_student()
    booking = make_booking(consultation, noor)
    seen = [to(keep(notices.booking_made(booking, now=NOW), NOW), noor.user)["invitation"]]
    for days in (1, 2):
        before = consultation.starts_at
        consultation.starts_at += timedelta(days=days)
        consultation.ends_at += timedelta(days=days)
        consultation.sequence += 1
        moved = notices.booking_moved(
            booking, old_starts_at=before, old_instructor=consultation.instructor, now=NOW
        )
        seen.append(to(keep(moved, NOW), noor.user)["invitation"])
    consultation.status, consultation.sequence = MeetingStatus.CANCELLED, consultation.sequence + 1
    seen.append(
        to(keep(notices.booking_ended(end(booking), now=NOW), NOW), noor.user)["cancellation"]
    )
    assert [value(message.calendar, "SEQUENCE") for message in seen] == ["0", "1", "2", "3"]
    assert {value(message.calendar, "UID") for message in seen} == {str(consultation.uid)}
    assert value(seen[-1].calendar, "STATUS") == "CANCELLED"


def test_another_instructor_takes_over_and_the_old_one_is_freed(consultation: Meeting) -> None:
    """The old instructor's entry is cancelled for her alone, the new one gets it, and the family's changes."""
    noor, old, new = (
        make_student(),
        consultation.instructor,
        make_instructor("Tenzin Orlo", "Asia/Kathmandu"),
    )
    booking = make_booking(consultation, noor)
    keep(notices.booking_made(booking, now=NOW), NOW)
    consultation.instructor, consultation.sequence = new, 1
    messages = keep(
        notices.booking_moved(booking, old_starts_at=START, old_instructor=old, now=NOW), NOW
    )
    assert value(to(messages, old.user)["cancellation"].calendar, "STATUS") is None
    assert value(to(messages, new.user)["invitation"].calendar, "METHOD") == "REQUEST"
    assert "T. Orlo" in to(messages, noor.user)["invitation"].title


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
    """No reminder between 22:00 and 08:00 of the reader's clock, and none that comes too late to be of use."""
    meeting, noor = make_meeting(make_offering(), make_instructor(), at(start)), make_student()
    messages = to(notices.booking_made(make_booking(meeting, noor), now=NOW), noor.user)
    due: dict[str, datetime] = {
        kind: message.due_at for kind, message in messages.items() if kind.startswith("reminder")
    }
    wanted = {"reminder-24h": day_before, "reminder-1h": hour_before}
    assert due == {kind: at(instant) for kind, instant in wanted.items() if instant}
