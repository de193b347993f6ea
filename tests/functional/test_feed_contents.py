"""What a feed shows, and to whom: left meetings, offers, children and addresses that are over."""

from datetime import timedelta
from typing import Any

import pytest

from accounts.models import User
from bookings.domain.vocabulary import Ended, Kind, Standing
from bookings.models import Booking, Feed
from bookings.operations.subscriptions import open_feed, renew_feed, revoke_feed
from bookings.queries.calendars import events_for
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
from tests.functional.feeds import address, bump, fetch, held, reader

__all__ = ["held"]
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def test_unknown_revoked_and_left_look_the_same(
    held: Booking, django_assert_num_queries: Any
) -> None:
    """404 with the same bytes and one look-up each, so nothing can be learned by asking."""
    owner = reader(held)
    feed, secret = open_feed(actor=owner, label="Old", now=NOW)
    revoke_feed(actor=owner, feed=feed, now=NOW)
    gone = make_user("Nobody Now")
    left = address(gone)
    User.objects.filter(pk=gone.pk).update(is_active=False)
    answers = []
    for path in ("/calendar/never-was.ics", f"/calendar/{secret}.ics", left):
        with django_assert_num_queries(1):
            answers.append(fetch(path))
        del answers[-1]["X-Request-ID"]  # by chance, and another one each time
    assert {
        (answer.status_code, answer.content, tuple(sorted(answer.headers.items())))
        for answer in answers
    } == {(404, b"Nothing here.\n", tuple(sorted(answers[0].headers.items())))}


def test_a_renewed_address_replaces_the_old_one(held: Booking) -> None:
    """Only a digest is stored; the old secret is nothing from that moment on."""
    owner = reader(held)
    feed, old = open_feed(actor=owner, label="Phone", now=NOW)
    _, new = renew_feed(actor=owner, feed=feed, now=NOW)
    assert old not in str(Feed.objects.values().get())
    assert fetch(f"/calendar/{old}.ics").status_code == 404
    assert fetch(f"/calendar/{new}.ics").status_code == 200


def test_a_meeting_that_was_left_is_cancelled_for_a_week_and_then_gone() -> None:
    """Shown CANCELLED until seven days after its start, without its join address; then dropped, so
    that none pile up.
    """
    offering = make_offering("Studio class", Kind.GROUP_MEETING, 50)
    meeting = make_meeting(
        offering, make_instructor(), at("2027-03-15T21:00Z"), title="Hands together", places=4
    )
    booking = make_booking(
        meeting,
        make_student(),
        standing=Standing.ENDED,
        ended_at=NOW,
        ended_why=Ended.CANCELLED_IN_TIME,
    )
    for now, shown in (
        (NOW, True),
        (at("2027-03-22T23:59Z"), True),
        (at("2027-03-24T00:00Z"), False),
    ):
        events = events_for(reader(booking), now=now)
        assert [(event.status, event.join_address) for event in events] == (
            [("CANCELLED", "")] if shown else []
        )
    (taught_event,) = events_for(meeting.instructor.user, now=NOW)
    assert (taught_event.status, taught_event.summary) == ("CONFIRMED", "Hands together")


def test_an_offer_is_not_in_the_feed_and_a_return_is() -> None:
    """Nothing is shown before they say yes, nor after they said no; who left and came back has the
    place.
    """
    offering = make_offering("Studio class", Kind.GROUP_MEETING, 50)
    meeting, noor = (
        make_meeting(offering, make_instructor(), at("2027-03-15T21:00Z"), places=4),
        make_student(),
    )
    offer = make_booking(meeting, noor, standing=Standing.OFFERED, answer_by=NOW)
    assert events_for(reader(offer), now=NOW) == []
    offer.standing, offer.ended_at, offer.ended_why = Standing.ENDED, NOW, Ended.DECLINED
    offer.save()
    assert events_for(reader(offer), now=NOW) == []
    make_booking(
        meeting, noor, standing=Standing.ENDED, ended_at=NOW, ended_why=Ended.CANCELLED_IN_TIME
    )
    make_booking(meeting, noor)
    assert [event.status for event in events_for(reader(offer), now=NOW)] == ["CONFIRMED"]


def test_a_guardian_sees_their_children_until_they_are_grown(held: Booking) -> None:
    """The child's meeting without the child's name; from the day they are an adult it is theirs
    alone.
    """
    hedda = make_user("Hedda Lindqvist-Reed", "Australia/Sydney")
    posy = make_minor(guardian=hedda, adult_on=at("2027-06-01T00:00Z").date())
    meeting = make_meeting(held.meeting.offering, make_instructor(), at("2027-03-15T09:00Z"))
    make_booking(meeting, posy)
    body = fetch(address(hedda)).content.decode()
    assert str(meeting.uid) in body
    assert "Posy" not in body
    assert str(held.meeting.uid) not in body
    assert events_for(hedda, now=at("2027-06-01T00:00Z")) == []


def test_what_changes_a_calendar_revises_its_feeds(held: Booking) -> None:
    """Enqueued messages revise the readers' feeds, and those of a minor whose guardian is the
    reader; no other.
    """
    hedda = make_user("Hedda Lindqvist-Reed", "Australia/Sydney")
    posy = make_minor(guardian=hedda)
    give_account(posy)
    feeds = [
        open_feed(actor=owner, label="Phone", now=NOW)[0]
        for owner in (hedda, posy.user, reader(held))
    ]
    bump(hedda, NOW + timedelta(minutes=1))
    assert [Feed.objects.get(pk=feed.pk).revision for feed in feeds] == [2, 2, 1]


def test_the_number_of_queries_does_not_grow(held: Booking, django_assert_num_queries: Any) -> None:
    """Taught meetings, students, bookings with offerings, instructors and their people, sequences:
    seven, whatever the number.
    """
    owner = reader(held)
    with django_assert_num_queries(7):
        assert len(events_for(owner, now=NOW)) == 1
    for day in range(16, 26):
        make_booking(
            make_meeting(
                held.meeting.offering, held.meeting.instructor, at(f"2027-03-{day}T21:00Z")
            ),
            held.student,
        )
    with django_assert_num_queries(7):
        assert len(events_for(owner, now=NOW)) == 11
