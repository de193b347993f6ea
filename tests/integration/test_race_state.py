"""What a checker of races reads of the database."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.domain.vocabulary import Kind
from bookings.operations.places import book_place, leave_place
from bookings.operations.waiting import join_waiting_list
from tests import cast
from tests.cast import NOW
from tests.races.history import check
from tests.races.state import read_state

pytestmark = pytest.mark.django_db


def test_a_reading_holds_what_stands_and_what_ended() -> None:
    """A place given back and offered on: both bookings, the place in the queue and the messages are
    read, in a fixed number of queries.
    """
    cast.make_policy()
    group, ilse = cast.make_offering("Studio class", Kind.GROUP_MEETING, 60), cast.make_instructor()
    meeting = cast.make_meeting(group, ilse, NOW + timedelta(days=5), places=1)
    noor, marlo = cast.make_student(), cast.make_student("Marlo Vance")
    first = book_place(actor=noor.user, student=noor, meeting=meeting, place_kind="player", now=NOW)
    waiting = join_waiting_list(
        actor=marlo.user, student=marlo, meeting=meeting, place_kind="player", now=NOW
    )
    with CaptureQueriesContext(connection) as asked_before:
        before = read_state(since=NOW)
    leave_place(actor=noor.user, booking=first, now=NOW)
    with CaptureQueriesContext(connection) as asked:
        after = read_state(since=NOW)

    assert len(asked_before) == len(asked) == 9
    assert (before.bookings[first.pk].standing, after.bookings[first.pk].ended_why) == (
        "HELD",
        "cancelled-in-time",
    )
    offer = after.waiting[waiting.pk].offer
    assert offer is not None
    assert (after.bookings[offer].standing, after.bookings[offer].waiting_place) == (
        "OFFERED",
        waiting.pk,
    )
    row = after.meetings[meeting.pk]
    assert (row.taken, row.places, row.one_on_one, row.live) == (1, 1, False, True)
    assert after.offerings[group.pk] == (60, 10)
    assert after.zones[ilse.pk] == "Europe/Dublin"
    assert len(after.messages) > len(before.messages) > 0
    assert check([], before, after) == []
    assert read_state(since=NOW + timedelta(days=6)).meetings == {}
