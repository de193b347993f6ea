"""Hours that are hard on a solver, each with its one documented behaviour."""

from datetime import date, timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.slots import Slot
from bookings.domain.zones import zone
from bookings.models import DaysAway, ExtraHours, Meeting, TeachingHours
from bookings.operations.booking import book_slot
from bookings.operations.hours import add_extra_hours, publish_week
from bookings.queries.slots import slots_for
from tests import cast
from tests.cast import NOW, at

pytestmark = pytest.mark.django_db

MONDAY = at("2027-03-08T00:00+00:00")


@pytest.fixture
def school():
    """Ilse, who teaches one consultation of 25 minutes, and Noor."""
    cast.make_policy()
    ilse, noor, offering = cast.make_instructor(), cast.make_student(), cast.make_offering()
    cast.teaches(ilse, offering)
    return ilse, noor, offering


def slots(school, since=MONDAY, days=1, **more) -> list[Slot]:
    """What Noor finds with Ilse."""
    ilse, noor, offering = school
    wanted = {
        "offering": offering,
        "student": noor,
        "since": since,
        "until": since + timedelta(days=days),
        "now": NOW,
        **more,
    }
    return slots_for(**wanted, instructor_id=ilse.pk).slots


def publish(ilse, *windows, time_zone="Europe/Dublin"):
    """Publishes (weekday, opens, closes), minutes of the day."""
    return publish_week(
        actor=ilse.user, instructor=ilse, time_zone=time_zone, windows=windows, now=NOW
    )


@pytest.mark.parametrize(
    ("windows", "code", "words"),
    [
        ([(0, 540, 720), (0, 660, 780)], "invalid", "overlap"),
        ([(0, 1320, 60)], "end-before-start", "past midnight takes two windows"),
        ([(0, 540, 540)], "end-before-start", "choose an end after the start"),
        ([(0, 540, 1500)], "invalid", "00:00 to 24:00"),
    ],
)
def test_windows_that_cannot_be_are_refused_whole(school, windows, code, words):
    """Overlapping, crossing midnight, of no length, beyond the day: refused with the window named,
    and nothing is kept.
    """
    publish(school[0], (1, 540, 720))
    with pytest.raises(Refused) as refusal:
        publish(school[0], *windows)
    assert refusal.value.code == code
    assert words in refusal.value.detail
    assert list(TeachingHours.objects.values_list("weekday", flat=True)) == [1]


def test_overlapping_rows_that_got_past_the_rule_count_once(school):
    """Written to the tables directly, two overlapping windows are one stretch: no start is offered
    twice.
    """
    cast.publish(school[0], "0 09:00-12:00, 0 10:00-13:00")
    starts = [slot.starts_at for slot in slots(school)]
    assert len(starts) == len(set(starts)) == 8


def test_hours_over_midnight_are_two_windows_and_one_stretch(school):
    """Monday to 24:00 and Tuesday from 00:00 join: a meeting may run through midnight."""
    publish(school[0], (0, 1410, 1440), (1, 0, 30))
    ilse, noor, _ = school
    long = cast.make_offering("Long lesson", "private-lesson", 50)
    cast.teaches(ilse, long)
    found = slots((ilse, noor, long), days=2)
    assert [slot.starts_at for slot in found] == [MONDAY + timedelta(hours=23, minutes=30)]


def test_a_day_of_24_hours_is_a_day(school):
    """00:00-24:00 offers every half hour of an ordinary day, and 46 of them on the day that loses
    one.
    """
    publish(school[0], *[(weekday, 0, 1440) for weekday in range(7)])
    assert len(slots(school)) == 48
    short_sunday = at("2027-03-28T00:00+00:00")
    assert len(slots(school, short_sunday, days=1)) == 48
    local = [
        slot.starts_at.astimezone(zone("Europe/Dublin"))
        for slot in slots(school, short_sunday, days=1)
    ]
    assert sum(start.date() == date(2027, 3, 28) for start in local) == 46


def test_a_zone_that_is_no_more_is_refused_and_an_old_name_works(school):
    """A name that tzdata does not know is refused when it is sent; one that it keeps as a link
    means the same clock.
    """
    with pytest.raises(Refused) as refusal:
        publish(school[0], (0, 540, 600), time_zone="Europe/Atlantis")
    assert refusal.value.code == "unknown-zone"
    publish(school[0], (0, 540, 600), time_zone="Eire")
    assert [slot.starts_at.hour for slot in slots(school)] == [9, 9]


def test_a_horizon_of_ten_years_is_searched_no_further_than_asked(school):
    """The policy may allow ten years; a search bounds itself by what it asks, and the far end is
    right through clock changes.
    """
    cast.make_policy(version=2, horizon_days=3653)
    publish(school[0], (0, 540, 600))
    far = at("2036-07-07T00:00+00:00")
    assert [f"{slot.starts_at:%Y-%m-%d %H:%M}" for slot in slots(school, far)] == [
        "2036-07-07 08:00",
        "2036-07-07 08:30",
    ]
    assert len(slots(school, MONDAY, days=3650, limit=7)) == 7


def test_a_thousand_extra_hours_are_all_heard(school):
    """A thousand one-off windows, two of them in the day asked for, cost one query and give their
    starts.
    """
    ilse = school[0]
    ExtraHours.objects.bulk_create(
        ExtraHours(
            instructor=ilse,
            on=MONDAY.date() + timedelta(days=number // 2),
            opens=480 + 120 * (number % 2),
            closes=510 + 120 * (number % 2),
            time_zone=zone("Europe/Dublin"),
        )
        for number in range(1000)
    )
    assert [slot.starts_at.hour for slot in slots(school)] == [8, 10]
    with pytest.raises(Refused) as refusal:
        add_extra_hours(
            actor=ilse.user,
            instructor=ilse,
            on=MONDAY.date(),
            opens=600,
            closes=600,
            time_zone="Europe/Dublin",
            now=NOW,
        )
    assert refusal.value.code == "end-before-start"


def test_new_hours_show_at_once_though_they_are_kept(school):
    """Hours worked out and kept in the cache are never those of before: extra hours, days away and
    a new week count at once.
    """
    ilse = school[0]
    publish(ilse, (0, 540, 600))
    assert len(slots(school)) == 2
    add_extra_hours(
        actor=ilse.user,
        instructor=ilse,
        on=MONDAY.date(),
        opens=720,
        closes=750,
        time_zone="Europe/Dublin",
        now=NOW,
    )
    assert len(slots(school)) == 3
    DaysAway.objects.create(
        instructor=ilse,
        first_on=MONDAY.date(),
        last_on=MONDAY.date(),
        time_zone=zone("Europe/Dublin"),
    )
    assert slots(school) == []
    DaysAway.objects.all().delete()
    publish(ilse, (0, 540, 630))
    assert len(slots(school)) == 4


def test_a_student_who_moves_keeps_what_they_booked(school):
    """The meeting stays at its instant and on the instructor's promise; new searches and a minor's
    hours use the new clock.
    """
    ilse, _, offering = school
    publish(ilse, *[(weekday, 540, 1260) for weekday in range(7)])
    posy = cast.make_minor()
    start = at("2027-03-08T09:30+00:00")  # 20:30 in Sydney
    booking = book_slot(
        actor=posy.guardians.get(),
        student=posy,
        offering=offering,
        instructor=ilse,
        starts_at=start,
        now=NOW,
    )
    posy.own_time_zone = zone("America/New_York")  # where it is 04:30
    posy.save()
    kept = Meeting.objects.get(pk=booking.meeting_id)
    assert (kept.starts_at, str(kept.time_zone), f"{kept.wall_at:%H:%M}") == (
        start,
        "Europe/Dublin",
        "09:30",
    )
    found = slots((ilse, posy, offering), days=1)
    assert found[0].starts_at == at("2027-03-08T13:00+00:00")  # 08:00 in New York
