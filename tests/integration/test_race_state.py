"""What a checker of races reads of the database."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.domain.vocabulary import Attendance, Kind
from bookings.models import OwedLesson
from bookings.operations.places import book_place, leave_place
from bookings.operations.waiting import join_waiting_list
from tests import cast
from tests.cast import NOW
from tests.races.desk.book_rows import Line, Owed
from tests.races.history import check
from tests.races.state import read_state
from tests.school.statements import OVER, February

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

    assert len(asked_before) == len(asked) == 14
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


def test_the_books_are_read_as_they_are_written() -> None:
    """An owed lesson that is made up, a register with its corrections, a statement with its
    counter-lines; of registers none unless they are asked for.
    """
    month = February()
    first, second = month.lesson_on(1), month.lesson_on(2)
    for lesson in (first, second):
        month.mark(lesson, Attendance.PRESENT)
    statement = month.issue()
    month.mark(second, Attendance.INSTRUCTOR_ABSENT)
    month.correct(statement)
    owed = OwedLesson.objects.get(booking=second)
    made_up = month.lesson_on(27, makes_up=owed)

    books = read_state(since=OVER, taught_before=second.ends_at).books
    assert books.owed == {Owed(owed.pk, month.noor.pk, owed.use_by, make_up=made_up.pk)}
    words = {row.booking: row.entries for row in books.places}
    assert words == {first.pk: ("PRESENT",), second.pk: ("PRESENT", "INSTRUCTOR_ABSENT")}
    (read,) = books.statements
    assert read.lines == (
        Line(first.meeting_id, "taught", 50),
        Line(second.meeting_id, "taught", 50),
        Line(second.meeting_id, "taught", -50, takes_back=True),
        Line(second.meeting_id, "instructor-absent", 0),
    )
    assert read_state(since=OVER).books.places == frozenset()
