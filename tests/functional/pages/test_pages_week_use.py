"""Hours week by week on their page."""

from datetime import timedelta

import pytest

from tests.cast import NOW, at, make_booking, make_meeting
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.sql


def test_the_weeks_stand_in_a_bar_and_in_a_table(school: School) -> None:
    """Eight weeks up to this one and four ahead; Friday's consultation is booked."""
    page = text_of(as_user(school.ilse.user).get("/hours/weeks/"))
    assert page.count("<rect ") >= 12
    assert page.count('<th scope="row">') == 12
    for monday in ("Monday 11 January 2027", "Monday 1 March 2027", "Monday 29 March 2027"):
        assert monday in page
    # 11:00-14:30, 15:30-20:30, twice 15:30-20:30 or -19:30: 17 hours 30 minutes a week.
    assert page.count('<td class="minutes">17:30</td>') >= 11


def test_the_fullest_week_ahead_is_named_with_who_waits(school: School) -> None:
    """A day away leaves the week of 8 March with the least; Noor waits for the full circle."""
    days = {"first_on": at("2027-03-08T00:00Z"), "last_on": at("2027-03-09T00:00Z")}
    dates = {name: day.date() for name, day in days.items()}
    school.ilse.days_away.create(**dates, time_zone="Europe/Dublin")
    make_booking(school.circle, school.marlo)
    school.circle.waiting.create(student=school.posy, place_kind="player", joined_at=NOW)
    page = text_of(as_user(school.ilse.user).get("/hours/weeks/"))
    assert "The week of Monday 8 March has the least room" in page
    assert "1 on a waiting list" in page
    assert "Posy: <a" in page
    assert "Lindqvist" not in page


def test_who_is_due_a_review_is_named(school: School) -> None:
    """Noor was last seen seven weeks ago, and nothing is booked."""
    school.booking.delete()
    seen = make_meeting(school.consultation, school.ilse, NOW - timedelta(weeks=7))
    make_booking(seen, school.noor)
    page = text_of(as_user(school.ilse.user).get("/hours/weeks/"))
    assert "Enough for a lesson with each: 1 due a review." in page
    assert "Noor Ashgrove. <span" in page


def test_a_week_without_room_is_where_an_extra_hour_serves_most(school: School) -> None:
    """A quarter of an hour is published: too short for a lesson. Noor is due a review."""
    school.booking.delete()
    make_booking(
        make_meeting(school.consultation, school.ilse, NOW - timedelta(weeks=7)), school.noor
    )
    school.ilse.week.windows.filter(weekday__gte=1).delete()
    school.ilse.week.windows.filter(opens__lt=900).update(opens=900, closes=915)
    school.ilse.week.windows.filter(opens__gt=900).delete()
    page = text_of(as_user(school.ilse.user).get("/hours/weeks/"))
    assert "The week of Monday 8 March is full" in page
    assert "An extra hour there would serve most: 1 due a review." in page
    assert "suits 1 of 1" in page


def test_an_instructor_without_hours_is_told_so(school: School) -> None:
    """Nothing is drawn that is not there."""
    page = text_of(as_user(school.wren.user).get("/hours/weeks/"))
    assert "No hours are published for the next weeks." in page


def test_hours_i_teach_leads_there(school: School) -> None:
    """For an admin with the instructor's id."""
    assert 'href="/hours/weeks/"' in text_of(as_user(school.ilse.user).get("/hours/"))
    named = f"?instructor={school.ilse.pk}"
    assert f'href="/hours/weeks/{named}"' in text_of(as_user(school.dag).get(f"/hours/{named}"))
