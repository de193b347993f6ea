"""An address that says when somebody is busy, as it is read again and again: due, failing, changed,
removed, over.
"""

from datetime import timedelta

import pytest
from django.db import connection

from accounts.models import Instructor, Student
from bookings import door, tasks
from bookings.domain.errors import Refused
from bookings.inbound.fetching import Fetched, Tags
from bookings.models import BusyCalendar, BusyPeriod
from bookings.operations import busy as operations
from bookings.operations.busy_reading import read_file
from bookings.queries.busy import calendars_due
from tests import cast
from tests.cast import NOW, at
from tests.other_calendars import URL, add_address, add_file
from tests.unit.calendars_samples import calendar_of, entry

pytestmark = pytest.mark.django_db
TEN = at("2027-03-05T15:00:00+00:00")
HOUR = timedelta(hours=1)


@pytest.fixture
def ilse() -> Instructor:
    ilse = cast.make_instructor()
    cast.teaches(ilse, cast.make_offering())
    return ilse


@pytest.fixture
def noor() -> Student:
    return cast.make_student()


class Host:
    """What an address answers: bytes, a refusal, or "not changed"."""

    def __init__(self, *answers: object) -> None:
        self.answers, self.tags = list(answers), []

    def __call__(self, address: str, tags: Tags | None) -> Fetched:
        assert address == URL
        assert (
            not connection.savepoint_ids
        )  # the test's own transaction apart, nothing is fetched inside one
        self.tags.append(tags)
        answer = self.answers.pop(0)
        if isinstance(answer, Refused):
            raise answer
        return Fetched(answer, Tags('"v1"'))  # type: ignore[arg-type]


WEEKLY = calendar_of(entry("DTSTART:20270305T150000Z", "DURATION:PT1H", "RRULE:FREQ=WEEKLY"))
UNANSWERED = Refused(
    "calendar-unanswered", "The address gave no calendar: it answered with status 500."
)


def test_an_address_is_read_when_it_is_due(noor: Student) -> None:
    """First at once, then an hour or so later with the tags of before; "not changed" keeps the
    periods and makes the copy younger.
    """
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
    assert door.write(lambda: operations.claim_calendar(calendar_id=calendar.pk, now=NOW), now=NOW)
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
    """Its age is told beside the problem; tries come at 15, 30, 60 minutes and so on, at most a day
    apart; a good one ends it all.
    """
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
        assert calendar.problem == (
            "calendar-unreadable" if answer is broken else "calendar-unanswered"
        )
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
    """Whole days are the owner's: once they have moved, an unchanged calendar is fetched whole and
    worked out again.
    """
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


def test_their_own_lessons_that_come_back_are_not_busy_time(
    ilse: Instructor, noor: Student
) -> None:
    """A calendar that also shows our feed holds our meetings by their UID: they are left out, for
    instructor and student.
    """
    booking = cast.make_booking(cast.make_meeting(ilse.teaches.get().offering, ilse, TEN), noor)
    data = calendar_of(
        entry(f"UID:{booking.meeting.uid}", "DTSTART:20270305T150000Z", "DURATION:PT25M"),
        entry("UID:other", "DTSTART:20270306T150000Z", "DURATION:PT25M"),
    )
    for person in (ilse, noor):
        (period,) = read_file(data, person, NOW, actor=noor.user).periods
        assert period.starts_at == TEN + timedelta(days=1)


def test_asking_again_has_a_pause_and_is_not_for_files(noor: Student) -> None:
    """Within a minute of the last try it is refused; a file cannot be fetched at all."""
    calendar = add_address(noor)
    tasks.refresh_calendar(calendar.pk, NOW, fetching=Host(WEEKLY))

    def ask(later: timedelta) -> BusyCalendar:
        return door.write(
            lambda: operations.ask_again(actor=noor.user, calendar=calendar, now=NOW + later),
            now=NOW + later,
        )

    with pytest.raises(Refused, match="too-many-requests"):
        ask(timedelta(seconds=59))
    assert ask(timedelta(seconds=60)).next_at == NOW + timedelta(seconds=60)
    calendar = add_file(noor)
    with pytest.raises(Refused, match="wrong-kind"):
        ask(HOUR)
