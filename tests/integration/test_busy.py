"""Other calendars' busy time as the school works with it: what it closes, who learns of it, and what happens as it changes."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from accounts.models import Instructor, Student
from bookings import door, tasks
from bookings.domain.errors import Refused
from bookings.domain.timeline import Period
from bookings.inbound.fetching import Fetched, Tags
from bookings.models import AuditRow, BusyCalendar, BusyPeriod
from bookings.operations import busy as operations
from bookings.operations.booking import book_slot, move_slot
from bookings.operations.busy import Copy
from bookings.operations.reading import read_file
from bookings.queries.busy import calendars_due, calendars_of, clashing_bookings, clashing_meetings
from bookings.queries.explaining import explained
from bookings.queries.slots import slots_for
from tests import cast
from tests.cast import NOW, at
from tests.unit.calendars_samples import calendar_of, entry

pytestmark = pytest.mark.django_db
TEN = at("2027-03-05T15:00:00+00:00")
URL = "https://calendar.rowanmere.example/noor.ics?key=canary-7d31"
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


def a_copy(*periods: Period, **fields: object) -> Copy:
    return Copy(periods=periods, covers_until=NOW + timedelta(days=366), unknown_zones=0, digest="d", time_zone="Europe/Dublin", **fields)  # type: ignore[arg-type]


def add_file(person: Instructor | Student, *periods: Period) -> BusyCalendar:
    actor = person.user or person.guardians.get()  # type: ignore[union-attr]
    return door.write(lambda: operations.add_file(actor=actor, person=person, name="Orchestra", copy=a_copy(*periods), now=NOW), now=NOW)


def add_address(person: Instructor | Student) -> BusyCalendar:
    return door.write(
        lambda: operations.add_address(
            actor=person.user, person=person, name="Choir", address=URL, host="calendar.rowanmere.example", now=NOW
        ),
        now=NOW,
    )


def starts(ilse: Instructor, student: Student) -> set[object]:
    offering = ilse.teaches.get().offering
    found = slots_for(offering=offering, student=student, since=TEN - HOUR, until=TEN + HOUR, now=NOW)
    return {slot.starts_at for slot in found.slots}


def test_busy_time_closes_starts_for_either_side(ilse: Instructor, noor: Student) -> None:
    """An instructor's or a student's busy hour is not offered; a minor's without an account neither; it is back once removed."""
    posy = cast.make_minor(time_zone="Europe/Dublin")
    whole = starts(ilse, noor)
    assert {TEN, TEN - HOUR / 2} <= whole
    for person, asker in ((ilse, noor), (noor, noor), (posy, posy)):
        calendar = add_file(person, Period(TEN, TEN + HOUR / 2))
        assert starts(ilse, asker) == whole - {TEN}
        door.write(lambda calendar=calendar: operations.remove_calendar(actor=noor.user, calendar=calendar, now=NOW), now=NOW)
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
    """ "taken" for the instructor's, "own-clash" for the student's, without a word of where that is known from."""
    offering = ilse.teaches.get().offering

    def book(start: object) -> object:
        return door.write(
            lambda: book_slot(actor=noor.user, student=noor, offering=offering, instructor=ilse, starts_at=start, now=NOW), now=NOW
        )

    booking = book(TEN - 2 * HOUR)
    hers = add_file(noor, Period(TEN, TEN + HOUR))
    with pytest.raises(Refused) as refused:
        book(TEN)
    assert (refused.value.code, refused.value.detail) == ("own-clash", "The student is not free at that time: choose another.")
    with pytest.raises(Refused, match="own-clash"):
        door.write(lambda: move_slot(actor=noor.user, booking=booking, starts_at=TEN, now=NOW), now=NOW)
    hers.delete()
    add_file(ilse, Period(TEN, TEN + HOUR))
    with pytest.raises(Refused) as refused:
        book(TEN)
    assert (refused.value.code, refused.value.detail) == ("taken", "That time is not free: choose another.")


def test_a_students_busy_time_is_told_to_her_family_alone(ilse: Instructor, noor: Student) -> None:
    """Why a start is not offered: the family reads which time; to an instructor or admin it is "not free", without times."""
    add_file(noor, Period(TEN - HOUR, TEN + HOUR))
    how = {"offering": ilse.teaches.get().offering, "instructor": ilse, "student": noor, "starts_at": TEN, "now": NOW}
    (family,) = explained(**how, is_family=True).reasons
    (school,) = explained(**how, is_family=False).reasons
    assert "her own calendar" not in school.sentence
    assert family.numbers["starts_at"] == (TEN - HOUR).isoformat()
    assert (school.code, school.sentence, school.numbers) == ("own-clash", "The student is not free at that time: choose another.", {})


def test_an_instructors_busy_time_is_not_told_to_families(ilse: Instructor, noor: Student) -> None:
    """A family reads "not free"; the instructor herself reads that it is a busy time and when."""
    add_file(ilse, Period(TEN, TEN + HOUR))
    how = {"offering": ilse.teaches.get().offering, "instructor": ilse, "starts_at": TEN, "now": NOW}
    (family,) = explained(**how, student=noor, is_family=True).reasons
    (herself,) = explained(**how, student=None, is_family=False).reasons
    assert (family.rule, family.numbers) == ("not free", {})
    assert herself.numbers["kind"] == "busy time"


def test_a_clash_is_shown_and_nothing_is_done(ilse: Instructor, noor: Student) -> None:
    """Meetings in new busy time stand; both sides see their own clashes; what only touches is none, nor what is over or called off."""
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
    """After a file with text everywhere no table holds any of it; the address is sealed, and neither audit row nor repr shows it."""
    data = calendar_of(
        entry("UID:canary-7d31@x", "DTSTART:20270305T150000Z", "DURATION:PT1H", "SUMMARY:canary-7d31", "LOCATION:canary-7d31"),
    )
    copy = read_file(data, ilse, NOW)
    door.write(lambda: operations.add_file(actor=ilse.user, person=ilse, name="Orchestra", copy=copy, now=NOW), now=NOW)
    calendar = add_address(ilse)
    assert calendar.address == URL
    assert BusyPeriod.objects.count() == 1
    with connection.cursor() as cursor:
        for table in ("bookings_busycalendar", "bookings_busyperiod", "bookings_auditrow"):
            cursor.execute(f"SELECT * FROM {table}")
            for row in cursor.fetchall():
                assert not any("canary-7d31" in str(bytes(cell) if isinstance(cell, (bytes, memoryview)) else cell) for cell in row)
    assert AuditRow.objects.filter(verb="added busy calendar").count() == 2


def test_no_more_than_five(noor: Student) -> None:
    """The sixth is refused and nothing is stored; another person has five of her own."""
    for _ in range(5):
        add_file(noor)
    with pytest.raises(Refused, match="remove one first"):
        add_file(noor)
    assert calendars_of(noor).count() == 5
    add_file(cast.make_student("Marlo Vance"))


class Host:
    """What an address answers: bytes, a refusal, or "not changed"."""

    def __init__(self, *answers: object) -> None:
        self.answers, self.tags = list(answers), []

    def __call__(self, address: str, tags: Tags | None) -> Fetched:
        assert address == URL
        assert not connection.savepoint_ids  # the test's own transaction apart, nothing is fetched inside one
        self.tags.append(tags)
        answer = self.answers.pop(0)
        if isinstance(answer, Refused):
            raise answer
        return Fetched(answer, Tags('"v1"'))  # type: ignore[arg-type]


WEEKLY = calendar_of(entry("DTSTART:20270305T150000Z", "DURATION:PT1H", "RRULE:FREQ=WEEKLY"))
UNANSWERED = Refused("calendar-unanswered", "The address gave no calendar: it answered with status 500.")


def test_an_address_is_read_when_it_is_due(noor: Student) -> None:
    """First at once, then an hour or so later with the tags of before; "not changed" keeps the periods and makes the copy younger."""
    calendar = add_address(noor)
    host = Host(WEEKLY, None)
    tasks.refresh_calendar(calendar.pk, NOW, fetching=host)
    assert calendar.periods.count() == 52
    calendar.refresh_from_db()
    assert (calendar.fetched_at, calendar.problem, calendar.etag) == (NOW, "", '"v1"')
    assert NOW + 0.8 * HOUR <= calendar.next_at <= NOW + 1.2 * HOUR
    later = NOW + 2 * HOUR
    assert calendars_due(later, 5) == [calendar.pk]
    tasks.refresh_calendar(calendar.pk, later, fetching=host)
    calendar.refresh_from_db()
    assert (calendar.fetched_at, calendar.periods.count()) == (later, 52)
    assert host.tags == [None, Tags('"v1"', "")]


def test_only_one_of_two_readers_reads(noor: Student) -> None:
    """A duplicate task finds it taken, and one that is not due is left alone."""
    calendar = add_address(noor)
    assert door.write(lambda: operations.claim(calendar_id=calendar.pk, now=NOW), now=NOW)
    tasks.refresh_calendar(calendar.pk, NOW, fetching=Host())
    tasks.refresh_calendar(calendar.pk + 1, NOW, fetching=Host())


def test_nothing_is_fetched_for_a_closed_account(noor: Student) -> None:
    """It is due again once the account is open."""
    calendar = add_address(noor)
    for is_active, due in ((False, []), (True, [calendar.pk])):
        noor.user.is_active = is_active
        noor.user.save()
        assert calendars_due(NOW, 5) == due


def test_the_last_good_copy_stays_where_a_fetch_fails(noor: Student) -> None:
    """Its age is told beside the problem; tries come at 15, 30, 60 minutes and so on, at most a day apart; a good one ends it all."""
    calendar = add_address(noor)
    broken = calendar_of(entry("DTSTART:tomorrow"))
    tasks.refresh_calendar(calendar.pk, NOW, fetching=Host(WEEKLY))
    now, waits = NOW, []
    for answer in (UNANSWERED, broken, *[UNANSWERED] * 8):
        calendar.refresh_from_db()
        now = calendar.next_at
        tasks.refresh_calendar(calendar.pk, now, fetching=Host(answer))
        calendar.refresh_from_db()
        waits.append((calendar.next_at - now) / timedelta(minutes=1))
        assert calendar.fetched_at == NOW
        assert calendar.periods.count() == 52
        assert calendar.problem == ("calendar-unreadable" if answer is broken else "calendar-unanswered")
    expected = [15, 30, 60, 120, 240, 480, 960, 1440, 1440, 1440]
    assert all(0.8 * want <= wait <= 1.2 * want for wait, want in zip(waits, expected, strict=True))
    tasks.refresh_calendar(calendar.pk, calendar.next_at, fetching=Host(calendar_of()))
    calendar.refresh_from_db()
    assert (calendar.problem, calendar.failures, calendar.periods.count()) == ("", 0, 0)


def test_a_broken_first_copy_stores_nothing(noor: Student) -> None:
    """The problem is noted, no period is there, and it counts as never read."""
    calendar = add_address(noor)
    bomb = calendar_of(entry("DTSTART:20270305T150000Z", "RRULE:FREQ=SECONDLY"))
    tasks.refresh_calendar(calendar.pk, NOW, fetching=Host(bomb))
    calendar.refresh_from_db()
    assert (calendar.problem, calendar.fetched_at) == ("calendar-too-much", None)
    assert "by the hour, minute or second" in calendar.problem_words
    assert not BusyPeriod.objects.exists()


def test_one_removed_while_it_was_fetched_stays_removed(noor: Student) -> None:
    """The answer comes too late and writes nothing."""
    calendar = add_address(noor)

    def removing(address: str, tags: Tags | None) -> Fetched:
        BusyCalendar.objects.all().delete()
        return Fetched(WEEKLY, Tags())

    tasks.refresh_calendar(calendar.pk, NOW, fetching=removing)
    assert not BusyPeriod.objects.exists()


def test_another_clock_reads_the_same_file_anew(noor: Student) -> None:
    """Whole days are the owner's: once she has moved, an unchanged calendar is fetched whole and worked out again."""
    calendar = add_address(noor)
    day = calendar_of(entry("DTSTART;VALUE=DATE:20270305"))
    tasks.refresh_calendar(calendar.pk, NOW, fetching=Host(day))
    assert calendar.periods.get().starts_at == at("2027-03-05T05:00Z")
    noor.user.time_zone = "Asia/Kathmandu"
    noor.user.save()
    host = Host(day)
    tasks.refresh_calendar(calendar.pk, NOW + 2 * HOUR, fetching=host)
    assert host.tags == [None]
    assert calendar.periods.get().starts_at == at("2027-03-04T18:15Z")


def test_her_own_lessons_that_come_back_are_not_busy_time(ilse: Instructor, noor: Student) -> None:
    """A calendar that also shows our feed holds our meetings by their UID: they are left out, for instructor and student."""
    booking = cast.make_booking(cast.make_meeting(ilse.teaches.get().offering, ilse, TEN), noor)
    data = calendar_of(
        entry(f"UID:{booking.meeting.uid}", "DTSTART:20270305T150000Z", "DURATION:PT25M"),
        entry("UID:other", "DTSTART:20270306T150000Z", "DURATION:PT25M"),
    )
    for person in (ilse, noor):
        (period,) = read_file(data, person, NOW).periods
        assert period.starts_at == TEN + timedelta(days=1)


def test_asking_again_has_a_pause_and_is_not_for_files(noor: Student) -> None:
    """Within a minute of the last try it is refused; a file cannot be fetched at all."""
    calendar = add_address(noor)
    tasks.refresh_calendar(calendar.pk, NOW, fetching=Host(WEEKLY))

    def ask(later: timedelta) -> BusyCalendar:
        return door.write(lambda: operations.ask_again(actor=noor.user, calendar=calendar, now=NOW + later), now=NOW + later)

    with pytest.raises(Refused, match="too-many-requests"):
        ask(timedelta(seconds=59))
    assert ask(timedelta(seconds=60)).next_at == NOW + timedelta(seconds=60)
    calendar = add_file(noor)
    with pytest.raises(Refused, match="wrong-kind"):
        ask(HOUR)


def test_what_is_over_is_forgotten(noor: Student) -> None:
    """Busy time that ended is deleted; what is ahead stays."""
    add_file(noor, Period(NOW - 72 * HOUR, NOW - 60 * HOUR), Period(NOW - 72 * HOUR, NOW + HOUR))
    assert operations.forget_past(before=NOW - 48 * HOUR) == 1
    assert BusyPeriod.objects.get().ends_at == NOW + HOUR


@pytest.mark.parametrize("size", [0, 300])
def test_busy_time_costs_no_query_more(ilse: Instructor, noor: Student, size: int) -> None:
    """Slots take six statements whatever the busy time: it comes with what is read anyway."""
    for person in (ilse, noor):
        add_file(person, *(Period(NOW + (2 * n) * HOUR, NOW + (2 * n + 1) * HOUR) for n in range(size)))
    offering = ilse.teaches.get().offering
    with CaptureQueriesContext(connection) as counted:
        slots_for(offering=offering, student=noor, since=TEN - HOUR, until=TEN + HOUR, now=NOW)
    assert len(counted) <= 6
