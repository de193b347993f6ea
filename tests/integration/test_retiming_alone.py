"""What new zone rules leave as it is, what is told of it, and how it is done."""

import pytest

from bookings.domain.zones import TZDATA_VERSION
from bookings.door import write
from bookings.models import Meeting, OutboxMessage
from bookings.operations import retiming
from bookings.operations.booking import cancel_slot
from bookings.queries.retiming import is_due, plan
from tests.cast import NOW
from tests.school.lessons import HOUR, School

pytestmark = pytest.mark.django_db


@pytest.fixture
def school():
    return School()


def test_without_the_old_rules_the_new_hour_is_told_alone(school):
    """Nothing that may be wrong is told."""
    mine = school.lesson_at("2027-03-12T20:00Z", school.noor, off=HOUR)
    school.retime()
    told = OutboxMessage.objects.get(meeting=mine, recipient=school.noor.user, kind="invitation")
    assert (
        "That is 60 minutes earlier than planned. On your clock the hour is now: Fri 12 March "
        "15:00, New York."
    ) in told.body
    assert "16:00" not in told.body


def test_what_does_not_move_is_only_stamped(school):
    """The version is noted; SEQUENCE, version and the people's letter boxes stay as they are."""
    meeting = school.lesson_at("2027-03-12T17:00Z", school.noor, tzdata_version="2025b")
    assert is_due(NOW)
    assert school.retime() == []
    meeting.refresh_from_db()
    assert (meeting.tzdata_version, meeting.sequence, meeting.version) == (TZDATA_VERSION, 0, 1)
    assert not OutboxMessage.objects.exists()
    assert not is_due(NOW)


def test_past_and_cancelled_meetings_are_left_alone(school):
    """They promise nothing any more."""
    past = school.lesson_at("2027-02-12T17:00Z", school.noor, off=HOUR)
    cancelled = school.lesson_at("2027-03-12T17:00Z", off=HOUR, status="CANCELLED")
    assert not is_due(NOW)
    assert school.retime() == []
    assert {Meeting.objects.get(pk=meeting.pk).tzdata_version for meeting in (past, cancelled)} == {
        "2025b"
    }


def test_what_changed_between_plan_and_lock_is_judged_anew(school):
    """A lesson cancelled after the plan was made is not moved, and nobody is told."""
    meeting = school.lesson_at("2027-03-12T17:00Z", school.noor, off=HOUR)
    found = plan(NOW)
    write(
        lambda: cancel_slot(actor=school.noor.user, booking=meeting.bookings.get(), now=NOW),
        now=NOW,
    )
    told = OutboxMessage.objects.count()
    assert write(lambda: retiming.retime(meeting_ids=found.batches[0], now=NOW), now=NOW) == []
    assert OutboxMessage.objects.count() == told


def test_a_day_of_lessons_is_one_batch_and_a_year_is_many(school):
    """No transaction moves more than a hundred meetings that do not get in each other's way."""
    for day in range(60):
        for hour in (9, 10, 11):
            school.lesson_at(f"2027-06-{day % 30 + 1:02}T{hour + 5 * (day // 30):02}:00Z", off=HOUR)
    batches = plan(NOW).batches
    assert [len(batch) for batch in batches] == [99, 81]
