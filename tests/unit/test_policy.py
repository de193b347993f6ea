"""Each booking rule at its edges."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.errors import Refused
from bookings.domain.policy import (
    Policy,
    cancel_by,
    changeover_minutes,
    check_allowance,
    check_horizon,
    check_lead,
    check_minor,
    is_minor,
    offer_answer_by,
    quiet_until,
)
from bookings.domain.timeline import Period
from tests.unit import brute
from tests.unit.times import days, midnight, zones

POLICY = Policy()
NEW_YORK, SYDNEY = "America/New_York", "Australia/Sydney"
NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
SECOND = timedelta(seconds=1)


def local(text: str, zone: str) -> datetime:
    """The instant of a wall time."""
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def refusal_of(check, *arguments) -> Refused:
    """What the check refuses with."""
    with pytest.raises(Refused) as refusal:
        check(*arguments)
    return refusal.value


def test_what_holds_where_a_school_sets_nothing():
    """24 h of notice is the most common in published policies; 11 h of rest is the UK floor (HSE);
    the rest is common practice.
    """
    assert Policy() == Policy(
        lead_time_minutes=12 * 60,
        horizon_days=60,
        notice_minutes=24 * 60,
        open_consultations=2,
        changeover_short_minutes=5,
        changeover_long_minutes=10,
        minor_opens=8 * 60,
        minor_closes=21 * 60,
        run_minutes=120,
        run_gap_minutes=15,
        day_minutes=6 * 60,
        week_minutes=25 * 60,
        night_rest_minutes=11 * 60,
    )


@pytest.mark.parametrize(
    ("minutes", "changeover"), [(25, 5), (30, 5), (31, 10), (45, 10), (50, 10)]
)
def test_a_longer_meeting_has_a_longer_changeover(minutes, changeover):
    """5 minutes after a meeting of up to 30, 10 after a longer one (common practice; teachers'
    pages name 5 and 10).
    """
    assert changeover_minutes(POLICY, minutes) == changeover
    assert changeover_minutes(
        Policy(changeover_short_minutes=0, changeover_long_minutes=15), minutes
    ) == (0 if changeover == 5 else 15)


def test_notice_is_elapsed_hours_through_a_clock_change():
    """24 h before Sunday 15:00 in New York, 14 March 2027, is Saturday 14:00 EST: the night was an
    hour short (IANA).
    """
    assert cancel_by(POLICY, local("2027-03-14T15:00", NEW_YORK)) == local(
        "2027-03-13T14:00", NEW_YORK
    )
    assert cancel_by(POLICY, datetime(2027, 3, 14, 15, tzinfo=ZoneInfo(NEW_YORK))) == local(
        "2027-03-13T14:00", NEW_YORK
    )


def test_the_lead_time_ends_at_its_very_minute():
    """12 hours ahead is open, a second less is too soon, a second ago is past."""
    check_lead(NOW + 12 * HOUR, NOW, POLICY)
    check_lead(NOW, NOW, Policy(lead_time_minutes=0))
    assert refusal_of(check_lead, NOW + 12 * HOUR - SECOND, NOW, POLICY).code == "too-soon"
    assert refusal_of(check_lead, NOW, NOW, POLICY).code == "too-soon"
    assert refusal_of(check_lead, NOW - SECOND, NOW, POLICY).code == "past"


def test_too_soon_names_the_first_open_time():
    """The sentence says what to do, with a start on the grid and in the reader's zone."""
    refusal = refusal_of(check_lead, NOW + HOUR, NOW + SECOND, POLICY, NEW_YORK)
    assert refusal.detail == (
        "Book at least 12 hours ahead: the first time still open is 16:05 on Monday 1 March 2027 "
        "(New York)."
    )
    assert refusal.data == {"earliest_at": "2027-03-01T21:05:00Z"}
    assert (
        "at least 90 minutes ahead"
        in refusal_of(check_lead, NOW, NOW, Policy(lead_time_minutes=90)).detail
    )
    assert (
        "at least 1 hour ahead"
        in refusal_of(check_lead, NOW, NOW, Policy(lead_time_minutes=60)).detail
    )


def test_the_horizon_ends_at_its_very_minute():
    """60 days ahead is open, a second more is not, and the sentence names the last time on the
    grid.
    """
    check_horizon(NOW + timedelta(days=60), NOW, POLICY)
    refusal = refusal_of(
        check_horizon, NOW + timedelta(days=60) + SECOND, NOW - SECOND, POLICY, NEW_YORK
    )
    assert refusal.code == "too-far"
    assert (
        "60 days ahead: the last time open now is 04:55 on Friday 30 April 2027 (New York)"
        in refusal.detail
    )
    assert refusal.data == {"latest_at": "2027-04-30T08:55:00Z"}


def test_a_minor_comes_of_age_on_a_date():
    """Minor up to the day before; nobody without such a date."""
    assert is_minor(date(2027, 3, 2), date(2027, 3, 1))
    assert not is_minor(date(2027, 3, 2), date(2027, 3, 2))
    assert not is_minor(None, date(2027, 3, 1))


@pytest.mark.parametrize(
    ("start", "minutes", "allowed"),
    [
        ("08:00", 60, True),
        ("20:00", 60, True),
        ("07:55", 60, False),
        ("20:05", 60, False),
        ("23:30", 60, False),
        ("08:00", 781, False),
    ],
)
def test_a_minor_is_taught_from_eight_to_nine_in_the_evening(start, minutes, allowed):
    """The whole meeting lies inside 08:00-21:00 of the minor's own clock, the end included (the
    school's rule).
    """
    starts_at = local(f"2027-02-07T{start}", SYDNEY)
    period = Period(starts_at, starts_at + timedelta(minutes=minutes))
    if allowed:
        check_minor(period, SYDNEY, POLICY)
    else:
        refusal = refusal_of(check_minor, period, SYDNEY, POLICY)
        assert refusal.code == "minor-hours"
        assert refusal.data == {"local_start": f"2027-02-07T{start}:00+11:00", "time_zone": SYDNEY}
        assert "between 08:00 and 21:00" in refusal.detail
        assert f"{start} on Sunday 7 February 2027 (Sydney)" in refusal.detail


def test_the_allowance_of_open_consultations_is_a_count():
    """The second may be booked, the third is refused with the number."""
    check_allowance(1, POLICY)
    refusal = refusal_of(check_allowance, 2, POLICY)
    assert refusal.code == "allowance-used"
    assert refusal.data == {"allowance": 2}
    check_allowance(2, replace(POLICY, open_consultations=3))


@pytest.mark.parametrize(
    ("offered", "start", "answer_by"),
    [
        # A player leaves three days before; the first on the list has 24 hours.
        ("2027-03-12T21:15", "2027-03-15T21:15", "2027-03-13T21:15"),
        # Half the time left is less than 24 hours.
        ("2027-03-01T09:00", "2027-03-01T19:00", "2027-03-01T14:00"),
        # Due at night, and the morning still leaves four hours.
        ("2027-03-01T23:00", "2027-03-03T23:00", "2027-03-03T08:00"),
        ("2027-03-01T10:00", "2027-03-02T12:00", "2027-03-02T08:00"),
        # Due at night, and the morning would leave less: the evening before.
        ("2027-03-01T10:00", "2027-03-02T11:55", "2027-03-01T22:00"),
        ("2027-03-01T10:00", "2027-03-02T10:00", "2027-03-01T22:00"),
        # Due at night, the evening before has passed: nobody is asked alone.
        ("2027-03-01T22:30", "2027-03-02T11:00", None),
        ("2027-03-01T22:00", "2027-03-02T11:00", None),
        # Four hours before the start are enough for an offer, less is not.
        ("2027-03-01T10:00", "2027-03-01T14:00", "2027-03-01T12:00"),
        ("2027-03-01T10:00", "2027-03-01T13:55", None),
        # 24 elapsed hours across the short night of 14 March.
        ("2027-03-13T12:00", "2027-03-20T12:00", "2027-03-14T13:00"),
    ],
)
def test_an_offer_lives_a_day_or_half_the_time_left_and_ends_by_day(offered, start, answer_by):
    """The answer is due within 24 h (a university registrar's rule), never at night in New York,
    never for first-yes places.
    """
    found = offer_answer_by(local(offered, NEW_YORK), local(start, NEW_YORK), NEW_YORK)
    assert found == (local(answer_by, NEW_YORK) if answer_by else None)


@given(days, zones, st.integers(-1440, 2880), st.integers(1, 6000))
def test_no_offer_ends_at_night_or_after_its_use(near, zone, shift, left):
    """Whatever the hour, zone and clock change: an answer is due after now, before the start,
    between 08:00 and 22:00.
    """
    now = midnight(near) + timedelta(minutes=shift)
    starts_at = now + timedelta(minutes=left)
    answer_by = offer_answer_by(now, starts_at, zone)
    if answer_by is None:
        assert left < 240 or brute.wall(now + min(24 * HOUR, (starts_at - now) / 2), zone)[
            1
        ] not in range(480, 1320)
    else:
        assert now < answer_by < starts_at
        assert 480 <= brute.wall(answer_by, zone)[1] <= 1320


@given(days, zones, st.integers(-1440, 2880))
def test_quiet_hours_end_at_the_next_eight_in_the_morning(near, zone, shift):
    """The first minute from then on whose wall clock shows 08:00-22:00, whatever the clocks do that
    night.
    """
    instant = midnight(near) + timedelta(minutes=shift)
    first = next(
        at
        for at in brute.minutes_between(instant, instant + timedelta(hours=60))
        if 480 <= brute.wall(at, zone)[1] < 1320
    )
    assert quiet_until(instant, zone) == first


def test_quiet_hours_begin_at_ten_and_end_at_eight():
    """22:00 is quiet already, 08:00 no longer; a second before each is the other way round."""
    ten, eight = local("2027-03-01T22:00", NEW_YORK), local("2027-03-02T08:00", NEW_YORK)
    assert quiet_until(ten - SECOND, NEW_YORK) == ten - SECOND
    assert quiet_until(ten, NEW_YORK) == eight
    assert quiet_until(eight - SECOND, NEW_YORK) == eight
    assert quiet_until(eight, NEW_YORK) == eight
