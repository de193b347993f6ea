"""A group meeting is duplicated on a series of dates: each a meeting of its own, all or none."""

from datetime import date

import pytest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, Meeting, OutboxMessage
from bookings.operations.calling_off import call_off
from bookings.operations.places import book_place
from bookings.operations.repeating import (
    Series,
    at_another_utc_hour,
    preview_series,
    repeat_meeting,
)
from tests import cast
from tests.cast import NOW, at
from tests.school.groups import Class, refused

AT_FIVE = 17 * 60


@pytest.fixture
def school(db: None) -> Class:
    """Ilse's class is on Sunday 14 March 2027, 17:00 in Dublin."""
    return Class()


def sundays(count: int = 4, **more) -> Series:
    """Sundays at 17:00 in Dublin from 21 March 2027; the clocks change there on the 28th."""
    return Series(date(2027, 3, 21), AT_FIVE, count=count, **more)


def repeat(school: Class, series: Series, **more) -> list[Meeting]:
    act = {"actor": school.admin, "meeting": school.meeting, "series": series, **more}
    return write(lambda: repeat_meeting(**act, now=NOW), now=NOW)


def preview(school: Class, series: Series, **more):
    act = {"actor": school.admin, "meeting": school.meeting, "series": series, **more}
    return write(lambda: preview_series(**act, now=NOW), now=NOW)


def test_a_series_keeps_the_wall_time_over_a_clock_change(school: Class) -> None:
    """17:00 in Dublin is 17:00 UTC on the 21st and 16:00 UTC from the 28th on. Source: EU summer
    time begins on the last Sunday of March.
    """
    shifted = at_another_utc_hour(preview(school, sundays(3, every_weeks=8)))
    assert shifted == {date(2027, 5, 16), date(2027, 7, 11)}
    made = repeat(school, sundays(3))
    assert [one.starts_at for one in made] == [
        at("2027-03-21T17:00Z"),
        at("2027-03-28T16:00Z"),
        at("2027-04-04T16:00Z"),
    ]
    assert {one.wall_at.hour for one in made} == {17}


def test_each_date_is_a_meeting_of_its_own(school: Class) -> None:
    """Its own UID, room and audit row; places and levels are the same, and nobody is in it."""
    school.ilse.room = "https://rooms.rowanmere.example/{token}"
    school.ilse.save()
    like = school.make(at("2027-03-13T12:00Z"), lowest_level=2)
    school.do(book_place, school.students[0], meeting=like)
    made = repeat(school, sundays(2), meeting=like)
    assert len({like.uid, *(one.uid for one in made)}) == 3
    assert len({like.join_address, *(one.join_address for one in made)}) == 3
    assert {(one.title, one.places, one.lowest_level, one.taken) for one in made} == {
        ("Ornaments", 2, 2, 0)
    }
    ids = [one.pk for one in made]
    assert AuditRow.objects.filter(verb="made", thing_id__in=ids).count() == 2
    assert OutboxMessage.objects.filter(meeting__in=made, recipient=school.ilse.user).count() == 2


def test_dates_that_cannot_be_had_are_named_and_nothing_is_made(school: Class) -> None:
    """Another meeting lies on 28 March. Without that date the series is made."""
    cast.make_meeting(school.offering, school.ilse, at("2027-03-28T16:30Z"))
    before = Meeting.objects.count(), OutboxMessage.objects.count()
    with pytest.raises(Refused) as caught:
        repeat(school, sundays(3))
    assert caught.value.code == "series-dates"
    assert [(day["on"], day["code"]) for day in caught.value.data["dates"]] == [
        ("2027-03-28", "taken")
    ]
    assert (Meeting.objects.count(), OutboxMessage.objects.count()) == before
    made = repeat(school, sundays(3, without=frozenset({date(2027, 3, 28)})))
    assert [one.wall_on for one in made] == [date(2027, 3, 21), date(2027, 4, 4)]


def test_a_preview_shows_every_date_and_writes_nothing(school: Class) -> None:
    """One date is taken, one left out, one can be made."""
    cast.make_meeting(school.offering, school.ilse, at("2027-03-28T16:30Z"))
    before = Meeting.objects.count(), AuditRow.objects.count()
    days = preview(school, sundays(3, without=frozenset({date(2027, 4, 4)})))
    assert [(day.meeting is not None, day.refusal and day.refusal.code) for day in days] == [
        (True, None),
        (False, "taken"),
        (False, None),
    ]
    assert (Meeting.objects.count(), AuditRow.objects.count()) == before


@pytest.mark.parametrize(
    ("first_on", "minute", "code"),
    [(date(2027, 3, 28), 90, "clock-gap"), (date(2027, 10, 31), 90, "clock-fold")],
)
def test_a_start_that_the_clock_skips_or_shows_twice_is_a_date_that_cannot_be_had(
    school: Class, first_on: date, minute: int, code: str
) -> None:
    """01:30 in Dublin on the two nights of the year; nobody can tell which instant is meant."""
    with pytest.raises(Refused) as caught:
        repeat(school, Series(first_on, minute, count=2))
    assert [day["code"] for day in caught.value.data["dates"]] == [code]


def test_the_same_series_twice_is_refused(school: Class) -> None:
    """The instructor is taken by the first; a date that it did not have is still free."""
    repeat(school, sundays(2))
    with pytest.raises(Refused) as caught:
        repeat(school, sundays(3))
    assert [day["on"] for day in caught.value.data["dates"]] == ["2027-03-21", "2027-03-28"]


def test_a_series_has_bounds(school: Class) -> None:
    """Too many dates, a date to leave out that is none of it, all of them left out."""
    for series in (
        sundays(41),
        sundays(2, every_weeks=13),
        sundays(2, without=frozenset({date(2027, 3, 22)})),
        sundays(1, without=frozenset({date(2027, 3, 21)})),
    ):
        refused("invalid", lambda series=series: repeat(school, series))


def test_a_meeting_called_off_can_be_duplicated_and_an_old_reading_cannot(school: Class) -> None:
    """What was called off may be planned anew; a changed meeting has to be read again."""
    refused("stale", lambda: repeat(school, sundays(1), version=99))
    school.do(call_off, actor=school.admin, meeting=school.meeting, why="")
    assert repeat(school, sundays(1))[0].status == "CONFIRMED"
