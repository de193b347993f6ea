"""A group meeting is duplicated on its page: every date is shown before anything is added."""

import pytest

from bookings.models import Meeting
from tests.cast import at, make_meeting
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.django_db

SERIES = {"first_on": "2027-03-22", "at": "16:00", "count": 3, "every_weeks": 1}
"""Mondays in Dublin, in teaching hours; the clocks change there between the first two."""


def page_of(school: School) -> str:
    return f"/meetings/{school.circle.pk}/duplicate/"


def test_the_form_asks_for_one_date_a_week_later(school: School) -> None:
    """The roster leads there; a one-on-one has no such page."""
    dag = as_user(school.dag)
    assert page_of(school) in text_of(dag.get(f"/meetings/{school.circle.pk}/"))
    page = text_of(dag.get(page_of(school)))
    for value in ("2027-03-20", "16:00"):
        assert f'value="{value}"' in page
    assert dag.get(f"/meetings/{school.booking.meeting_id}/duplicate/").status_code == 404


def test_every_date_is_shown_and_then_added(school: School) -> None:
    """With its UTC hour where that is another one; nothing is added before."""
    dag, count = as_user(school.dag), Meeting.objects.count()
    page = text_of(dag.post(page_of(school), SERIES))
    assert "Leave out 22 March 2027" in page
    assert page.count("15:00 UTC: <b>another UTC hour</b>") == 2
    assert Meeting.objects.count() == count
    sure = {**SERIES, "sure": "yes", "version": school.circle.version}
    assert dag.post(page_of(school), sure).status_code == 302
    starts = Meeting.objects.filter(title=school.circle.title).values_list("starts_at", flat=True)
    assert at("2027-03-29T15:00Z") in starts
    assert Meeting.objects.count() == count + 3


def test_a_date_that_cannot_be_had_is_named_and_left_out(school: School) -> None:
    """What was typed stays, and ticking the date makes the others."""
    make_meeting(school.consultation, school.ilse, at("2027-03-29T15:30Z"))
    dag, sure = as_user(school.dag), {**SERIES, "sure": "yes"}
    refused = dag.post(page_of(school), sure)
    assert refused.status_code == 409
    assert "these dates are not available: 29 March." in text_of(refused)
    assert "Ilse Quarrow has another meeting then" in text_of(refused)
    assert dag.post(page_of(school), {**sure, "without": "2027-03-29"}).status_code == 302
    assert Meeting.objects.filter(title=school.circle.title).count() == 3
