"""Weekly places as the page opens: the few best, good hours folded by weekday, the same filters."""

import re

import pytest

from bookings.domain.vocabulary import Kind
from bookings.models import Offering, Term, WeeklyPlace
from tests.cast import make_instructor, make_offering, publish, teaches
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of
from tests.school.weekly import NOW, make_term

ALL_DAY = ", ".join(f"{weekday} 00:00-24:00" for weekday in range(7))


@pytest.fixture
def lesson(school: School, hands: Hands) -> Offering:
    """A lesson with Wren, who teaches all day and night in New York, a week before spring term."""
    hands.at = NOW
    make_term(school.dag)
    offering = make_offering("Harp lesson", Kind.PRIVATE_LESSON, 45)
    teaches(school.wren, offering)
    publish(school.wren, ALL_DAY)
    return offering


def test_three_weekly_times_come_first_and_the_rest_is_folded(
    school: School, lesson: Offering
) -> None:
    """Three on different weekdays, each with its own reason; seven closed weekdays, night in a fold
    of its own.
    """
    page = text_of(as_user(school.marlo.user).get("/weekly/"))
    aside, days = page.split('aria-labelledby="best"')[1].split("</aside>")
    assert "Three that suit best" in aside
    assert len(set(re.findall(r"<b>(\w+days) ", aside))) == 3
    assert len(re.findall(r"The only one of the three on \w+days", aside)) == 3
    assert "<details open" not in days
    assert re.search(r"<summary>Mondays: \d+ times between 07:00 and \d\d:\d\d</summary>", days)
    humane, far = days.split("<summary>Tuesdays")[0].split("very early, very late or at night")
    assert "At night." not in humane
    assert "At night." in far


def test_one_row_for_each_hour_whoever_teaches_then(school: School, lesson: Offering) -> None:
    """Twenty more who teach the same hours add no rows: each says how many others there are."""
    client = as_user(school.marlo.user)
    before = text_of(client.get("/weekly/"))
    for number in range(20):
        person = make_instructor(f"Teacher {number:02} Larkspur", "America/New_York")
        teaches(person, lesson)
        publish(person, ALL_DAY)
    after = text_of(client.get("/weekly/"))
    assert "or 20 others" in after
    assert after.count("/weekly/take/?") == before.count("/weekly/take/?")
    assert len(after) < 150_000


def test_weekly_places_and_moving_one_have_the_filters(school: School, lesson: Offering) -> None:
    """A part of the day and two hours, on both pages; an evening holds no start before 17:00."""
    client = as_user(school.marlo.user)
    wish = {"term": Term.objects.get().pk, "offering": lesson.pk, "instructor": school.wren.pk}
    taken = client.post(
        "/weekly/take/", {**wish, "student": school.marlo.pk, "weekday": 1, "wall_at": 600}
    )
    assert taken.status_code == 302
    place = WeeklyPlace.objects.get()
    for address in ("/weekly/", f"/weekly/{place.pk}/move/"):
        page = text_of(client.get(address, {"part": "evening"}))
        for name in ("part", "weekday", "earliest", "latest"):
            assert f'name="{name}"' in page
        clocks = re.findall(r"<b>\w+days (\d\d):\d\d</b>", page)
        assert clocks
        assert min(clocks) >= "17"
    moving = text_of(client.get(f"/weekly/{place.pk}/move/"))
    assert 'value="1-600"' not in moving
    assert "<details open" not in moving
    assert moving.count("The only one of the three on") == 3
