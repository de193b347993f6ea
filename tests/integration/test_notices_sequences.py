"""A place over its life in a calendar: sequences, removals and other instructors."""

from datetime import timedelta

import pytest

from bookings import notices
from bookings.domain.vocabulary import Ended, MeetingStatus, Standing
from bookings.models import Booking, Meeting
from tests.cast import (
    NOW,
    make_booking,
    make_instructor,
    make_minor,
    make_student,
    make_user,
)
from tests.integration.noticed import START, consultation, group
from tests.letters import keep, to, value

__all__ = ["consultation", "group"]
pytestmark = pytest.mark.django_db


def end(booking: Booking, why: Ended = Ended.CANCELLED_IN_TIME) -> Booking:
    booking.standing, booking.ended_at, booking.ended_why = Standing.ENDED, NOW, why
    booking.save()
    return booking


def test_sequence_rises_over_a_removal_and_a_return(group: Meeting) -> None:
    """Request 0, cancel 1, request 2 (RFC 5546 section 2.1.4); a removal says no STATUS (section
    3.2.5), and the UID stays.
    """
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
    """The address is for those booked: neither the words nor the calendar of a cancellation hold
    it.
    """
    noor = make_student()
    booking = make_booking(group, noor)
    assert (
        group.join_address
        in to(keep(notices.booking_made(booking, now=NOW), NOW), noor.user)["invitation"].body
    )
    out = to(notices.booking_ended(end(booking), now=NOW), noor.user)["cancellation"]
    assert group.join_address not in out.body + out.calendar


def test_an_offer_that_ended_leaves_nothing_in_a_calendar(group: Meeting) -> None:
    """Who never said yes was sent nothing for their calendar, so there is nothing to cancel there;
    the instructor is not troubled.
    """
    noor = make_student()
    offer = make_booking(group, noor, standing=Standing.OFFERED, answer_by=NOW + timedelta(hours=5))
    messages = notices.booking_ended(end(offer, Ended.LAPSED), now=NOW)
    assert [(message.recipient, message.kind, message.calendar) for message in messages] == [
        (noor.user, "told", "")
    ]
    assert "not answered in time" in messages[0].body


def test_a_brothers_place_stays_in_the_calendar_that_both_share(group: Meeting) -> None:
    """Two children of one guardian: when one leaves, their one entry stays, changed and not
    cancelled; reminders name who is left.
    """
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
    """TRADE scenario 23: one UID, updated twice, then cancelled for good, SEQUENCE 0, 1, 2, 3."""
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
    """The old instructor's entry is cancelled for them alone, the new one gets it, and the family's
    changes.
    """
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
