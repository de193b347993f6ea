"""Other calendars' busy time as the school works with it: what it closes, who learns of it, and
what happens as it changes.
"""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Instructor, Student
from bookings import door
from bookings.domain.errors import Refused
from bookings.domain.timeline import Period, rfc3339
from bookings.models import AuditRow, BusyPeriod
from bookings.operations import busy as operations
from bookings.operations.booking import book_slot, move_slot
from bookings.operations.busy_reading import read_file
from bookings.queries.busy import calendars_of, clashing_bookings, clashing_meetings
from bookings.queries.explaining import explained
from bookings.queries.slots import slots_for
from tests import cast
from tests.cast import NOW, at
from tests.other_calendars import URL, add_address, add_file
from tests.unit.calendars_samples import calendar_of, entry

pytestmark = pytest.mark.django_db
TEN = at("2027-03-05T15:00:00+00:00")
HOUR = timedelta(hours=1)


@pytest.fixture
def ilse() -> Instructor:
    cast.make_policy()
    ilse = cast.make_instructor()
    cast.teaches(ilse, cast.make_offering())
    cast.publish(ilse, cast.EVERY_DAY)
    return ilse


@pytest.fixture
def noor() -> Student:
    return cast.make_student()


def starts(ilse: Instructor, student: Student) -> set[object]:
    offering = ilse.teaches.get().offering
    found = slots_for(
        offering=offering, student=student, since=TEN - HOUR, until=TEN + HOUR, now=NOW
    )
    return {slot.starts_at for slot in found.slots}


def test_busy_time_closes_starts_for_either_side(ilse: Instructor, noor: Student) -> None:
    """An instructor's or a student's busy hour is not offered; a minor's without an account
    neither; it is back once removed.
    """
    posy = cast.make_minor(time_zone="Europe/Dublin")
    whole = starts(ilse, noor)
    assert {TEN, TEN - HOUR / 2} <= whole
    for person, asker in ((ilse, noor), (noor, noor), (posy, posy)):
        calendar = add_file(person, Period(TEN, TEN + HOUR / 2))
        assert starts(ilse, asker) == whole - {TEN}
        door.write(
            lambda calendar=calendar: operations.remove_calendar(
                actor=noor.user, calendar=calendar, now=NOW
            ),
            now=NOW,
        )
        assert starts(ilse, asker) == whole
    assert not BusyPeriod.objects.exists()


def test_busy_time_is_nobody_elses(ilse: Instructor, noor: Student) -> None:
    """One student's busy hour closes nothing for another, nor one instructor's for a colleague."""
    wren = cast.make_instructor("Wren Halloway")
    cast.teaches(wren, ilse.teaches.get().offering)
    cast.publish(wren, cast.EVERY_DAY)
    marlo = cast.make_student("Marlo Vance")
    add_file(noor, Period(TEN, TEN + HOUR))
    add_file(wren, Period(TEN, TEN + HOUR))
    assert TEN in starts(ilse, marlo)


def test_booking_and_moving_into_busy_time_is_refused(ilse: Instructor, noor: Student) -> None:
    """ "taken" for the instructor's, "own-clash" for the student's, without a word of where that is
    known from.
    """
    offering = ilse.teaches.get().offering

    def book(start: object) -> object:
        return door.write(
            lambda: book_slot(
                actor=noor.user,
                student=noor,
                offering=offering,
                instructor=ilse,
                starts_at=start,
                now=NOW,
            ),
            now=NOW,
        )

    booking = book(TEN - 2 * HOUR)
    noors = add_file(noor, Period(TEN, TEN + HOUR))
    with pytest.raises(Refused) as refused:
        book(TEN)
    assert (refused.value.code, refused.value.detail) == (
        "own-clash",
        "The student is not free then: choose another time.",
    )
    with pytest.raises(Refused, match="own-clash"):
        door.write(
            lambda: move_slot(actor=noor.user, booking=booking, starts_at=TEN, now=NOW), now=NOW
        )
    noors.delete()
    add_file(ilse, Period(TEN, TEN + HOUR))
    with pytest.raises(Refused) as refused:
        book(TEN)
    assert (refused.value.code, refused.value.detail) == (
        "taken",
        "That time is not free: choose another time.",
    )


def test_a_students_busy_time_is_told_to_their_family_alone(
    ilse: Instructor, noor: Student
) -> None:
    """Why a start is not offered: the family reads which time; to an instructor or admin it is "not
    free", without times.
    """
    add_file(noor, Period(TEN - HOUR, TEN + HOUR))
    how = {
        "offering": ilse.teaches.get().offering,
        "instructor": ilse,
        "student": noor,
        "starts_at": TEN,
        "now": NOW,
    }
    (family,) = explained(**how, is_family=True).reasons
    (school,) = explained(**how, is_family=False).reasons
    assert "their own calendar" not in school.sentence
    assert family.numbers["starts_at"] == rfc3339(TEN - HOUR)
    assert (school.code, school.sentence, school.numbers) == (
        "own-clash",
        "The student is not free then: choose another time.",
        {},
    )


def test_an_instructors_busy_time_is_not_told_to_families(ilse: Instructor, noor: Student) -> None:
    """A family reads "not free"; the instructor reads that it is a busy time, and when."""
    add_file(ilse, Period(TEN, TEN + HOUR))
    how = {
        "offering": ilse.teaches.get().offering,
        "instructor": ilse,
        "starts_at": TEN,
        "now": NOW,
    }
    (family,) = explained(**how, student=noor, is_family=True).reasons
    (herself,) = explained(**how, student=None, is_family=False).reasons
    assert (family.rule, family.numbers) == ("not free", {})
    assert herself.numbers["kind"] == "busy time"


def test_a_clash_is_shown_and_nothing_is_done(ilse: Instructor, noor: Student) -> None:
    """Meetings in new busy time stand; both sides see their own clashes; what only touches is none,
    nor what is over or called off.
    """
    offering = ilse.teaches.get().offering
    booked = cast.make_booking(cast.make_meeting(offering, ilse, TEN), noor)
    cast.make_meeting(offering, ilse, TEN + 2 * HOUR)
    cast.make_meeting(offering, ilse, TEN + HOUR / 2, status="CANCELLED")
    busy = Period(booked.ends_at - timedelta(minutes=5), TEN + 2 * HOUR)
    add_file(ilse, busy)
    assert [meeting.pk for meeting in clashing_meetings(ilse, NOW)] == [booked.meeting_id]
    assert clashing_bookings(noor, NOW) == []
    add_file(noor, busy)
    assert clashing_bookings(noor, NOW) == [booked]
    booked.refresh_from_db()
    assert booked.standing == "HELD"
    assert clashing_meetings(ilse, booked.ends_at) == []


def test_what_is_stored_is_times_alone(ilse: Instructor) -> None:
    """After a file with text everywhere no table holds any of it; the address is sealed, and
    neither audit row nor repr shows it.
    """
    data = calendar_of(
        entry(
            "UID:canary-7d31@x",
            "DTSTART:20270305T150000Z",
            "DURATION:PT1H",
            "SUMMARY:canary-7d31",
            "LOCATION:canary-7d31",
        ),
    )
    copy = read_file(data, ilse, NOW, actor=ilse.user)
    door.write(
        lambda: operations.add_file(
            actor=ilse.user, person=ilse, name="Orchestra", copy=copy, now=NOW
        ),
        now=NOW,
    )
    calendar = add_address(ilse)
    assert calendar.address == URL
    assert BusyPeriod.objects.count() == 1
    with connection.cursor() as cursor:
        for table in ("bookings_busycalendar", "bookings_busyperiod", "bookings_auditrow"):
            cursor.execute(f"SELECT * FROM {table}")
            for row in cursor.fetchall():
                assert not any(
                    "canary-7d31"
                    in str(bytes(cell) if isinstance(cell, (bytes, memoryview)) else cell)
                    for cell in row
                )
    assert AuditRow.objects.filter(verb="added busy calendar").count() == 2


def test_no_more_than_five(noor: Student) -> None:
    """The sixth is refused and nothing is stored; another person has five of their own."""
    for _ in range(5):
        add_file(noor)
    with pytest.raises(Refused, match="remove one first"):
        add_file(noor)
    assert calendars_of(noor).count() == 5
    add_file(cast.make_student("Marlo Vance"))


@pytest.mark.parametrize("size", [0, 300])
def test_busy_time_costs_no_query_more(ilse: Instructor, noor: Student, size: int) -> None:
    """Slots take six statements whatever the busy time: it comes with what is read anyway."""
    for person in (ilse, noor):
        add_file(
            person, *(Period(NOW + (2 * n) * HOUR, NOW + (2 * n + 1) * HOUR) for n in range(size))
        )
    offering = ilse.teaches.get().offering
    with CaptureQueriesContext(connection) as counted:
        slots_for(offering=offering, student=noor, since=TEN - HOUR, until=TEN + HOUR, now=NOW)
    assert len(counted) <= 6
