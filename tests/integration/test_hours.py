"""Publishing hours: what is offered follows, what was booked stays and is listed."""

from copy import copy
from datetime import date, timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, DaysAway, ExtraHours, TeachingHours, TeachingWeek
from bookings.operations import days_away, hours
from bookings.queries.slots import slots_for
from tests import cast
from tests.cast import NOW, at

pytestmark = pytest.mark.django_db


@pytest.fixture
def bram():
    """An instructor on Lord Howe Island, whose clock moves by half an hour."""
    cast.make_policy()
    return cast.make_instructor("Bram Tolliver", "Australia/Lord_Howe")


def publish(instructor, windows, time_zone="Australia/Lord_Howe", **more):
    return write(
        lambda: hours.publish_week(
            actor=instructor.user,
            instructor=instructor,
            time_zone=time_zone,
            windows=windows,
            now=NOW,
            **more,
        ),
        now=NOW,
    )


def refused(code, act):
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code


def starts(instructor, student, offering, since, until):
    found = slots_for(offering=offering, student=student, since=since, until=until, now=NOW)
    return [slot.starts_at for slot in found.slots if slot.instructor_id == instructor.pk]


def test_a_week_is_replaced_as_one_thing(bram):
    """The version rises, the old windows are gone, the audit says so without values."""
    publish(bram, [(0, 600, 720), (2, 600, 720)])
    again = publish(bram, [(4, 540, 660)], version=1)
    assert [(row.weekday, row.opens, row.closes) for row in TeachingHours.objects.all()] == [
        (4, 540, 660)
    ]
    assert again.week.version == 2
    assert AuditRow.objects.filter(thing="teachingweek", fields=["windows"]).count() == 2


def test_a_stale_week_is_refused(bram):
    """Who read an older week decides again."""
    publish(bram, [(0, 600, 720)])
    refused("stale", lambda: publish(bram, [(1, 600, 720)], version=0))


@pytest.mark.parametrize(
    ("code", "windows"),
    [
        ("end-before-start", [(0, 720, 600)]),
        ("invalid", [(0, 600, 720), (0, 700, 800)]),
        ("invalid", [(0, 601, 720)]),
        ("invalid", [(7, 600, 720)]),
    ],
)
def test_hours_that_cannot_be_are_refused_and_the_old_ones_stay(bram, code, windows):
    """Order, overlap, grid and weekday are checked before anything is written."""
    publish(bram, [(0, 600, 720)])
    refused(code, lambda: publish(bram, windows))
    assert TeachingHours.objects.get().opens == 600


def test_an_unknown_zone_is_refused(bram):
    """Only IANA names."""
    refused("unknown-zone", lambda: publish(bram, [(0, 600, 720)], time_zone="Mars/Olympus"))


def test_shrinking_the_hours_lists_the_bookings_left_outside_and_keeps_them(bram):
    """Moving them is a person's decision."""
    lesson = cast.make_offering()
    publish(bram, [(0, 600, 720)])
    inside = cast.make_meeting(lesson, bram, at("2027-03-08T10:30+11:00"))
    outside = cast.make_meeting(lesson, bram, at("2027-03-15T11:30+11:00"))
    published = publish(bram, [(0, 600, 690)])
    assert published.left_outside == [outside]
    inside.refresh_from_db()
    assert inside.status == "CONFIRMED"


def test_published_hours_become_slots_on_the_students_clock(bram):
    """10:00 on Lord Howe Island (+11) is 23:00 UTC the day before."""
    lesson = cast.make_offering()
    cast.teaches(bram, lesson)
    publish(bram, [(4, 600, 660)])
    found = starts(
        bram, cast.make_student(), lesson, at("2027-03-11T00:00Z"), at("2027-03-12T00:00Z")
    )
    assert found == [at("2027-03-11T23:00Z"), at("2027-03-11T23:30Z")]


def test_extra_hours_add_and_days_away_take_away(bram):
    """Days away win over everything; taking them back brings the hours back."""
    lesson = cast.make_offering()
    cast.teaches(bram, lesson)
    noor = cast.make_student()
    window = (at("2027-03-12T00:00Z"), at("2027-03-13T00:00Z"))
    extra = write(
        lambda: hours.add_extra_hours(
            actor=bram.user,
            instructor=bram,
            on=date(2027, 3, 13),
            opens=600,
            closes=630,
            time_zone="Australia/Lord_Howe",
            now=NOW,
        ),
        now=NOW,
    )
    assert starts(bram, noor, lesson, *window) == [at("2027-03-12T23:00Z")]
    went = write(
        lambda: days_away.go_away(
            actor=bram.user,
            instructor=bram,
            first_on=date(2027, 3, 13),
            last_on=date(2027, 3, 14),
            time_zone="Australia/Lord_Howe",
            now=NOW,
        ),
        now=NOW,
    )
    assert (starts(bram, noor, lesson, *window), went.left_outside) == ([], [])
    write(lambda: days_away.come_back(actor=bram.user, away=went.away, now=NOW), now=NOW)
    assert starts(bram, noor, lesson, *window) == [at("2027-03-12T23:00Z")]
    write(lambda: hours.remove_extra_hours(actor=bram.user, extra=extra, now=NOW), now=NOW)
    assert starts(bram, noor, lesson, *window) == []
    assert not ExtraHours.objects.exists()
    assert not DaysAway.objects.exists()


def test_what_is_taken_back_twice_is_gone_the_second_time(bram):
    """Two who take back the same extra hours or days away: the second changes no version and writes no audit row."""
    on = date(2027, 3, 13)
    own = {"actor": bram.user, "instructor": bram, "time_zone": "Australia/Lord_Howe", "now": NOW}
    extra = write(lambda: hours.add_extra_hours(on=on, opens=600, closes=630, **own), now=NOW)
    away = write(lambda: days_away.go_away(first_on=on, last_on=on, **own), now=NOW).away
    for take_back in (
        lambda: hours.remove_extra_hours(actor=bram.user, extra=copy(extra), now=NOW),
        lambda: days_away.come_back(actor=bram.user, away=copy(away), now=NOW),
    ):
        version = write(take_back, now=NOW).week.version
        refused("not-found", lambda: write(take_back, now=NOW))  # noqa: B023
        assert TeachingWeek.objects.get(instructor=bram).version == version


def test_scenario_9_changeover_chains_the_starts(bram):
    """Thirty-minute lessons with five minutes between from 15:30: 15:30, 16:05, 16:40; a 45-minute meeting at 16:40 blocks until 17:35.

    Source: acceptance scenario 9; lessons sold as 25 or 50 minutes inside 30 and 60 (a university's applied-music handbook).
    """
    ilse = cast.make_instructor()
    lesson = cast.make_offering(minutes=30, grid="window")
    long_lesson = cast.make_offering("Private lesson", minutes=45)
    cast.teaches(ilse, lesson)
    cast.publish(ilse, "4 15:30-20:30")
    noor = cast.make_student()
    day = (at("2027-03-12T00:00Z"), at("2027-03-13T00:00Z"))
    clock = [f"{start:%H:%M}" for start in starts(ilse, noor, lesson, *day)]
    assert clock[:4] == ["15:30", "16:05", "16:40", "17:15"]
    cast.make_meeting(
        long_lesson, ilse, at("2027-03-12T16:40Z"), held_until=at("2027-03-12T17:35Z")
    )
    left = [f"{start:%H:%M}" for start in starts(ilse, noor, lesson, *day)]
    assert left[:3] == ["15:30", "16:05", "17:50"]


def test_scenario_4_a_repeated_hour_is_two_starts_and_one_may_be_booked_without_the_other():
    """Wren's 01:00-02:00 on 7 November 2027 in New York: 05:30Z and 06:30Z.

    Source: acceptance scenario 4; zone transitions of tzdata 2026f.
    """
    now = at("2027-10-20T09:00Z")
    cast.make_policy()
    wren = cast.make_instructor("Wren Halloway", "America/New_York")
    lesson = cast.make_offering()
    cast.teaches(wren, lesson)
    cast.publish(wren, "6 01:00-02:00")
    noor = cast.make_student()
    span = {"since": at("2027-11-07T00:00Z"), "until": at("2027-11-08T00:00Z"), "now": now}
    found = [slot.starts_at for slot in slots_for(offering=lesson, student=noor, **span).slots]
    assert found == [at("2027-11-07T05:00Z") + timedelta(minutes=30 * i) for i in range(4)]
    cast.make_meeting(lesson, wren, at("2027-11-07T05:30Z"))
    left = [slot.starts_at for slot in slots_for(offering=lesson, student=noor, **span).slots]
    assert at("2027-11-07T06:30Z") in left
    assert at("2027-11-07T05:30Z") not in left


def test_scenario_3_a_missing_hour_is_never_offered():
    """Wren's 02:00-04:00 on 14 March 2027 in New York: nothing starts before 03:00 local, which is 07:00Z.

    Source: acceptance scenario 3; RFC 5545 section 3.3.5 on local times that do not occur.
    """
    cast.make_policy()
    wren = cast.make_instructor("Wren Halloway", "America/New_York")
    lesson = cast.make_offering()
    cast.teaches(wren, lesson)
    cast.publish(wren, "6 02:00-04:00")
    found = slots_for(
        offering=lesson,
        student=cast.make_student(),
        since=at("2027-03-14T00:00Z"),
        until=at("2027-03-15T00:00Z"),
        now=NOW,
    )
    assert [slot.starts_at for slot in found.slots] == [
        at("2027-03-14T07:00Z"),
        at("2027-03-14T07:30Z"),
    ]
