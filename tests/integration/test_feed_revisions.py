"""A feed's ETag changes whenever its bytes do, also for those who have left what it shows."""

from datetime import timedelta

import pytest

from bookings.models import Feed
from bookings.operations import calling_off, meetings, places
from bookings.operations.subscriptions import open_feed
from bookings.queries.calendars import feed_bytes, state_of
from tests.cast import NOW, at
from tests.school.groups import Class

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=1)


@pytest.fixture
def left() -> tuple[Class, Feed]:
    """Noor has left a class that goes on; their feed shows it cancelled for a while."""
    group = Class()
    noor = group.students[0]
    booking = group.do(places.book_place, noor)
    group.do(places.leave_place, actor=noor.user, booking=booking)
    return group, open_feed(actor=noor.user, label="Phone", now=NOW)[0]


def is_told_apart(feed: Feed, act) -> bool:
    """Whether the act changed the bytes, after checking that it then changed the state behind the
    ETag as well.
    """
    before = state_of(feed, now=LATER), feed_bytes(feed, now=LATER)
    act()
    feed.refresh_from_db()
    after = state_of(feed, now=LATER), feed_bytes(feed, now=LATER)
    assert (before[0] == after[0]) <= (before[1] == after[1])
    return before[1] != after[1]


def test_a_meeting_that_moves_after_they_left_revises_their_feed(left):
    """The cancelled entry follows its meeting, so a calendar that asks with the old ETag gets the
    new bytes (RFC 9110 section 8.8.1).
    """
    group, feed = left
    assert is_told_apart(
        feed,
        lambda: group.do(
            meetings.change_meeting,
            actor=group.admin,
            meeting=group.meeting,
            starts_at=at("2027-03-14T19:00Z"),
            now=LATER,
        ),
    )


def test_a_meeting_called_off_after_they_left_revises_their_feed(left):
    """Its DTSTAMP and SEQUENCE are others then, though it was cancelled for them before."""
    group, feed = left
    assert is_told_apart(
        feed,
        lambda: group.do(
            calling_off.call_off, actor=group.admin, meeting=group.meeting, why="Ill.", now=LATER
        ),
    )
