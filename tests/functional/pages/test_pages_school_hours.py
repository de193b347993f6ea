"""What a list of times calls the hours that suit less: school hours are no night."""

import re

import pytest

from bookings.domain.vocabulary import Kind, Wish
from bookings.models import StudentHours, StudentWeek
from tests.cast import make_minor, make_offering, publish, teaches
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of
from tests.school.weekly import NOW, make_term

NIGHT, LESS = "very early, very late or at night", "at hours that suit less"


@pytest.fixture
def weekly(school: School, hands: Hands) -> School:
    """A lesson on Mondays from ten to six, a week before spring term."""
    hands.at = NOW
    make_term(school.dag)
    offering = make_offering("Harp lesson", Kind.PRIVATE_LESSON, 45)
    teaches(school.wren, offering)
    publish(school.wren, "0 10:00-18:00")
    return school


def folded(page: str) -> set[str]:
    """The words of the folds of hard hours."""
    return set(re.findall(rf"\d+ more, ({NIGHT}|{LESS})", page))


def test_usual_school_hours_are_not_called_night(weekly: School) -> None:
    """Of a minor whose guardian has said nothing, both on Times that suit and on Weekly places."""
    fern = make_minor("Fern Reed", "America/New_York", guardian=weekly.hedda)
    client = as_user(weekly.hedda)
    for address in ("/weekly/", "/times/"):
        asked = {"student": fern.pk, "since": "2027-01-18"}
        assert folded(text_of(client.get(address, asked))) == {LESS}, address


def test_an_hour_that_a_family_marked_is_not_called_night(weekly: School) -> None:
    """Noor would come on Monday noon only if nothing else is left."""
    week = StudentWeek.objects.create(student=weekly.noor, version=1, changed_at=NOW)
    StudentHours.objects.create(week=week, weekday=0, opens=720, closes=780, wish=Wish.LAST)
    assert folded(text_of(as_user(weekly.noor.user).get("/weekly/"))) == {LESS}
