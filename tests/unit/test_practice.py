"""Practice plans: usual minutes, checks and warnings."""

from datetime import date

import pytest

from bookings.domain.errors import Refused
from bookings.domain.practice import (
    PracticeItem,
    age_on,
    check_items,
    floor_of,
    items_of,
    minutes_a_day,
    usual_items,
    usual_minutes,
    warnings,
)


def plan(main: int, review: int = 5) -> list[PracticeItem]:
    items = [PracticeItem(what="Study", minutes=main)]
    if review:
        items.append(PracticeItem(what="Old song", minutes=review, is_review=True))
    return items


@pytest.mark.parametrize(
    ("level", "minutes"), [(3, 40), (4, 40), (5, 45), (6, 60), (7, 60), (8, 75), (9, 90), (10, 90)]
)
def test_usual_minutes_rise_with_the_level(level: int, minutes: int) -> None:
    """Source: minutes a day by exam grade on a private teacher's page (grades III to X)."""
    assert usual_minutes(level, None) == minutes


@pytest.mark.parametrize("level", [1, 2])
def test_beginners_have_half_an_hour(level: int) -> None:
    """Source: a page on practice by age: 30 minutes at ages 7 to 10; harp teachers' published
    policies: 30 minutes a day for beginners.
    """
    assert usual_minutes(level, None) == usual_minutes(level, 8) == 30


def test_the_youngest_have_ten_minutes() -> None:
    """Source: a page on practice by age: 10 minutes at ages 4 and 5; the floor: common practice."""
    assert [usual_minutes(3, 4), usual_minutes(3, 5), floor_of(4), floor_of(5)] == [10] * 4
    assert (floor_of(6), floor_of(None)) == (15, 15)


@pytest.mark.parametrize("level", range(1, 11))
@pytest.mark.parametrize("age", [4, 5, 9, 15, None])
def test_the_usual_plan_has_the_usual_minutes_and_warns_of_nothing(
    level: int, age: int | None
) -> None:
    """A plan to start from keeps every value that the checks know."""
    items = usual_items(level, age)
    check_items(items)
    assert minutes_a_day(items) == usual_minutes(level, age)
    assert warnings(items, age=age, before=[]) == []


@pytest.mark.parametrize(
    ("items", "age", "said"),
    [
        (plan(9, 5), None, "less than 15 minutes"),
        (plan(9, 0), 5, "less than 10 minutes"),
        (plan(120, 5), None, "more than 2 hours"),
        (plan(240, 5), None, "more than 4 hours"),
        (plan(30, 0), None, "older piece"),
        (plan(30, 11), None, "older piece"),
    ],
)
def test_a_plan_warns(items: list[PracticeItem], age: int | None, said: str) -> None:
    """Floor and review: common practice. Two to four hours: the sources in domain/practice.py."""
    assert any(said in sentence for sentence in warnings(items, age=age, before=[]))


def test_a_steep_rise_is_warned_of() -> None:
    """Source: seven more hours a week came with worse pain (a study of 2018)."""
    assert any("more than before" in one for one in warnings(plan(85), age=None, before=plan(25)))
    assert warnings(plan(84), age=None, before=plan(25)) == []


def test_ages_are_counted_back_from_coming_of_age() -> None:
    """A child who comes of age on 3 March 2040 is 4 until the day before their fifth birthday."""
    of_age = date(2040, 3, 3)
    assert age_on(of_age, date(2027, 3, 2)) == 4
    assert age_on(of_age, date(2027, 3, 3)) == 5
    assert age_on(of_age, date(2040, 3, 2)) == 17
    assert age_on(of_age, of_age) is None
    assert age_on(None, of_age) is None


@pytest.mark.parametrize(
    "items",
    [
        [PracticeItem(what="x", minutes=5)] * 9,
        [PracticeItem(what=" ", minutes=5)],
        [PracticeItem(what="x" * 201, minutes=5)],
        [PracticeItem(what="x", minutes=0)],
        [PracticeItem(what="x", minutes=241)],
    ],
)
def test_a_plan_that_cannot_be_is_refused(items: list[PracticeItem]) -> None:
    """Too many items, an item without words, and minutes out of range."""
    with pytest.raises(Refused) as refusal:
        check_items(items)
    assert refusal.value.data["field"] == "practice"


def test_items_are_stored_and_read_back() -> None:
    """What the note stores becomes the same items again."""
    assert items_of([item.stored() for item in plan(20)]) == plan(20)
