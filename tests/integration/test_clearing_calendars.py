"""What an email about cleared hours says of the calendar emails that follow it."""

import pytest

from bookings.models import SentSequence
from tests.integration.cleared import clear, emails
from tests.school.covering import CoveringSchool

pytestmark = pytest.mark.django_db

OF_EACH = ("One more email for each meeting brings", "One more email for each of these brings")
OF_ONE = "One more email brings your calendar up to date."


@pytest.fixture
def school():
    return CoveringSchool()


@pytest.mark.parametrize("has_weekly", [False, True])
def test_no_more_calendar_emails_are_promised_than_follow(school, has_weekly):
    """A lesson of a weekly place has never been mailed to a calendar, so nothing there is to be
    brought up to date.
    """
    lessons = [school.book(school.noor, 13), school.book(school.noor, 15)]
    if has_weekly:
        SentSequence.objects.filter(meeting=lessons[1].meeting).delete()
    clear(school, *lessons)
    for reader, of_each in zip((school.ilse.user, school.noor.user), OF_EACH, strict=True):
        first, *following = emails(reader)
        assert len([one for one in following if one.method]) == (1 if has_weekly else 2)
        assert (of_each in first.body) is not has_weekly
        assert (OF_ONE in first.body) is has_weekly
