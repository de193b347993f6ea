"""A day more than half a year away is told with its year."""

from datetime import date, timedelta

import pytest
from django.conf import settings

from accounts.models import Guardianship
from bookings.pages.templatetags import formatting
from tests.cast import NOW, at
from tests.functional.pages.school import School, as_user, text_of

TODAY = NOW.date()


@pytest.mark.parametrize(
    ("days", "told"),
    [
        (0, "Monday 1 March"),
        (183, "Tuesday 31 August"),
        (184, "Wednesday 1 September 2027"),
        (-183, "Sunday 30 August"),
        (-184, "Saturday 29 August 2026"),
        (-365, "Sunday 1 March 2026"),
    ],
)
def test_a_day_has_its_year_where_it_is_not_near(days: int, told: str) -> None:
    """Near are 183 days before and after the day of the clock."""
    assert formatting.day_name(TODAY + timedelta(days=days)) == told


def test_every_way_to_tell_a_day_names_its_year() -> None:
    """An instant on a clock, with and without its time, and a date."""
    far, on = at("2030-06-02T10:00Z"), date(2030, 6, 2)
    assert formatting.weekday_and_day(far, "Europe/Dublin") == "Sunday 2 June 2030"
    assert formatting.day_and_time(far, "Europe/Dublin") == "Sunday 2 June 2030, 11:00"
    assert formatting.short_date(on) == "2 June 2030"


def test_templates_tell_days_by_these_filters_alone() -> None:
    """Django's own `date` filter would leave the year out."""
    folders = [settings.BASE_DIR / app for app in ("bookings", "accounts")]
    for template in (path for folder in folders for path in folder.rglob("*.html")):
        for asked in template.read_text().split('|date:"')[1:]:
            assert "Y" in asked.partition('"')[0], template


def test_an_old_consent_is_told_with_its_year(school: School) -> None:
    """Years after it was given, the page still says when that was."""
    given = Guardianship.objects.filter(guardian=school.hedda)
    assert given.update(consent_at=at("2024-12-01T12:00Z"), consent_wording="2024-11")
    assert "you gave consent on Sunday 1 December 2024" in text_of(
        as_user(school.hedda).get("/me/")
    )
