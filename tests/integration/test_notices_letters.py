"""Meetings called off or changed, offers, and letters about people."""

import re
from copy import copy
from datetime import timedelta

import pytest
from django.conf import settings
from django.urls import resolve

from accounts.models import Guardianship, Welcome
from bookings import notices
from bookings.domain.vocabulary import Ended, Kind, MeetingStatus, PlaceKind, Standing
from bookings.models import Booking, Meeting, WaitingPlace
from tests.cast import (
    NOW,
    at,
    make_admin,
    make_assessment,
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


@pytest.fixture
def group() -> Meeting:
    offering = make_offering("Studio class", Kind.GROUP_MEETING, 50)
    return make_meeting(
        offering, make_instructor(), at("2027-03-15T18:00Z"), title="Hands together", places=4
    )


def test_a_meeting_called_off_is_one_message_to_each_family(group: Meeting) -> None:
    """TRADE scenarios 17 and 24: a guardian of two gets one, all at once, and the calendars show it
    called off, not vanished.
    """
    hedda, noor, marlo = (
        make_user("Hedda Lindqvist-Reed", "Australia/Sydney"),
        make_student(),
        make_student("Marlo Vance"),
    )
    bookings = [
        make_booking(group, student)
        for student in (make_minor(guardian=hedda), make_minor("Kit Reed", guardian=hedda), noor)
    ]
    for booking in bookings:
        keep(notices.booking_made(booking, now=NOW), NOW)
    keep(notices.meeting_made(group, now=NOW), NOW)
    waiting = WaitingPlace.objects.create(meeting=group, student=marlo, joined_at=NOW)
    group.status, group.sequence = MeetingStatus.CANCELLED, 1
    messages = notices.called_off(group, bookings, waiting=[waiting], now=NOW)
    assert sorted(message.recipient.name for message in messages) == [
        "Hedda Lindqvist-Reed",
        "Ilse Quarrow",
        "Marlo Vance",
        "Noor Ashgrove",
    ]
    told = to(messages, hedda)["cancellation"]
    assert "Kit’s" in told.body
    assert "Posy’s" in told.body
    assert value(told.calendar, "STATUS") == "CANCELLED"
    assert not to(messages, marlo.user)["told"].calendar


def test_the_reason_typed_by_the_school_is_in_the_words_and_in_no_calendar(group: Meeting) -> None:
    """Those who are told read it; subjects and calendar files are seen by others and go without."""
    booking = make_booking(group, make_student())
    group.status, group.called_off_why = MeetingStatus.CANCELLED, "canary-of-the-reason"
    for message in notices.called_off(group, [booking], now=NOW):
        assert "Why: canary-of-the-reason\n" in message.body
        assert "canary-of-the-reason" not in message.title + message.calendar


def test_a_changed_meeting_asks_again(group: Meeting) -> None:
    """A higher SEQUENCE, and nobody is said to have accepted the new time (RFC 5546 section
    3.2.2.1).
    """
    noor = make_student()
    booking = make_booking(group, noor)
    keep(notices.booking_made(booking, now=NOW), NOW)
    group.sequence, group.join_address = 1, "https://rooms.rowanmere.example/other"
    changed = notices.meeting_changed(group, [booking], now=NOW)
    noors = to(changed, noor.user)["invitation"]
    assert value(noors.calendar, "SEQUENCE") == "1"
    assert "PARTSTAT=NEEDS-ACTION" in noors.calendar.replace("\r\n ", "")
    assert "https://rooms.rowanmere.example/other" in noors.body
    assert to(changed, group.instructor.user)["invitation"].method == "REQUEST"


def test_an_offer_says_until_when_on_the_readers_clock_and_fills_no_calendar(
    group: Meeting,
) -> None:
    """TRADE scenario 15: offered at 21:15 on 12 March 2027 in New York, it stands until 21:15 on
    the 13th.
    """
    noor, now = make_student(), at("2027-03-13T02:15Z")
    offer = make_booking(group, noor, standing=Standing.OFFERED, answer_by=at("2027-03-14T02:15Z"))
    (message,) = notices.offer_made(offer, now=now)
    assert "Say yes or no by Sat 13 March 21:15, New York" in message.body
    assert "Monday 15 March 2027, 14:00–14:50, New York" in message.body
    assert "Monday 15 March 2027, 18:00–18:50, Dublin (Ilse’s clock)" in message.body
    assert f"{settings.BASE_URL}/my-lessons/" in message.body
    assert (message.calendar, message.method, message.good_until) == ("", "", offer.answer_by)
    assert group.join_address not in message.body


def test_close_to_the_start_all_who_wait_hear_at_once(group: Meeting) -> None:
    """Nobody has a day to answer any more; the message says openly that the first yes has the
    place.
    """
    people = [make_student(), make_student("Marlo Vance")]
    waiting = [
        WaitingPlace.objects.create(meeting=group, student=student, joined_at=NOW)
        for student in people
    ]
    messages = notices.place_free(
        group, PlaceKind.PLAYER, waiting, now=group.starts_at - timedelta(hours=3)
    )
    assert {message.recipient for message in messages} == {student.user for student in people}
    assert all("the first to accept gets it" in message.body for message in messages)


def test_canary_a_released_assessment_is_announced_without_a_word_of_it() -> None:
    """Every text of the note holds a canary of its own; none is in the mail, which tells of pain
    and clinicians and no more.
    """
    names = ("strengths", "obstacle", "goal", "caution")
    lists = {"heard": ["canary-heard"], "next_steps": ["canary-step"]}
    practice = [{"what": "canary-practice", "minutes": 5, "is_review": False}]
    texts = {name: f"canary-{name}" for name in names}
    noor = make_student()
    note = make_assessment(noor, make_instructor(), practice=practice, **lists, **texts)
    note.private_remarks = "canary-remarks"
    (message,) = notices.assessment_released(note, now=NOW)
    assert message.recipient == noor.user
    assert "canary" not in message.title + message.body + message.calendar
    assert "ask a clinician" in message.body


def _cancelled(booking: Booking) -> Booking:
    """The booking as it reads once its family has cancelled it in time; not stored."""
    ended = copy(booking)
    ended.ended_why = Ended.CANCELLED_IN_TIME
    return ended


def test_every_address_in_a_mail_leads_somewhere(group: Meeting) -> None:
    """Each link of each kind of message is an address of the product."""
    noor, dag = make_student(), make_admin()
    booking = make_booking(group, noor)
    waiting = WaitingPlace.objects.create(meeting=group, student=noor, joined_at=NOW)
    guardianship = Guardianship.objects.get(student=make_minor())
    welcome = Welcome(pk=1, email="new@rowanmere.example", name="New Person", good_until=NOW)
    messages = [
        *notices.booking_made(booking, now=NOW),
        *notices.booking_ended(_cancelled(booking), now=NOW),
        *notices.place_free(group, PlaceKind.PLAYER, [waiting], now=NOW),
        *notices.called_off(group, [booking], now=NOW),
        *notices.assessment_released(make_assessment(noor, group.instructor), now=NOW),
        *notices.consent_asked(guardianship, wording="2026-11", secret="x", now=NOW),
        *notices.welcome_email(welcome, secret="x", inviter=dag, now=NOW),
    ]
    paths = {
        path
        for message in messages
        for path in re.findall(re.escape(settings.BASE_URL) + r"(/\S*)", message.body)
    }
    assert len(paths) >= 7
    for path in paths:
        resolve(path.partition("?")[0])


def test_a_guardian_is_asked_once_for_each_wording() -> None:
    """TRADE scenario 6: one request.

    The same guardianship and wording give the same keys, which the table keeps once.
    """
    posy = make_minor(consent=False)
    guardianship = Guardianship.objects.get(student=posy)
    keys = set()
    for secret in ("first", "second"):
        (message,) = notices.consent_asked(guardianship, wording="2026-11", secret=secret, now=NOW)
        assert f"{settings.BASE_URL}/consent/{secret}/" in message.body
        assert "Posy" not in message.title
        keys.add((message.recipient, message.kind, message.subject_key, message.state_key))
    assert keys == {
        (
            guardianship.guardian,
            "consent",
            f"guardianship:{guardianship.pk}",
            "2026-11:",
        )
    }


def test_a_welcome_goes_to_an_address_without_an_account() -> None:
    """The row belongs to the admin who invites; the letter does not go to them."""
    dag = make_admin()
    welcome = Welcome.objects.create(
        email="new@rowanmere.example",
        name="New Person",
        secret_digest="0" * 64,
        as_instructor=True,
        sent_at=NOW,
        good_until=NOW + timedelta(days=14),
    )
    (message,) = notices.welcome_email(welcome, secret="once-only", inviter=dag, now=NOW)
    assert (message.recipient, message.to_address, message.subject_key) == (
        dag,
        "new@rowanmere.example",
        f"welcome:{welcome.pk}",
    )
    assert f"{settings.BASE_URL}/welcome/once-only/" in message.body
    assert message.body.startswith("Dear New Person,")
