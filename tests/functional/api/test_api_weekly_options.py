"""The weekly times that the API offers, and what looking for them costs."""

from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest

from bookings.domain.vocabulary import Kind
from bookings.models import WeeklyPlace
from tests import cast
from tests.cast import at
from tests.functional.api.client import Api
from tests.functional.api.school import School
from tests.functional.api.weekly import TUESDAY, a_week_before_the_term, asked, place

pytestmark = pytest.mark.sql

__all__ = ["a_week_before_the_term", "place"]


def test_options_say_what_holds_and_what_fails(school: School, place: dict[str, int]) -> None:
    """Ranked; a date another lesson takes is named with its rule; the hours asked for hold on the
    student's clock.
    """
    cast.make_meeting(school.consultation, school.ilse, at("2027-03-02T16:30Z"))
    marlo = Api(school.marlo.user)
    results = marlo.get(asked(place, earliest="11:00", latest="13:30", limit=100)).json["results"]
    ranks = [
        (
            -len(row["held"]),
            row["greatest_burden"],
            row["sum_of_burdens"],
            row["held"][0]["starts_at"],
        )
        for row in results
    ]
    assert ranks == sorted(ranks)
    (option,) = (row for row in results if (row["weekday"], row["wall_time"]) == ("TU", "16:30"))
    assert [(day["on"], day["code"]) for day in option["failed"]] == [("2027-03-02", "taken")]
    assert (len(option["held"]), option["instructor_time_zone"]) == (11, "Europe/Dublin")
    refusal = marlo.post("weekly-places/", {**place, **TUESDAY}, key="once")
    assert (refusal.code, [day["on"] for day in refusal.json["dates"]]) == (
        "term-dates",
        ["2027-03-02"],
    )
    assert not WeeklyPlace.objects.exists()
    taken = marlo.post("weekly-places/", {**place, **TUESDAY, "without": ["2027-03-02"]})
    assert len(taken.json["lessons"]) == 11


@pytest.mark.parametrize("size", [0, 6])
def test_options_cost_a_fixed_number_of_queries(
    school: School,
    place: dict[str, int],
    django_assert_num_queries: Callable[[int], AbstractContextManager[object]],
    size: int,
) -> None:
    """Whatever is stored: student, term, offering, policy, people, their time, the student's
    own.
    """
    for _ in range(size):
        cast.teaches(
            cast.make_instructor("Bram Tolliver", "Australia/Lord_Howe"), school.consultation
        )
    with django_assert_num_queries(8):
        assert (
            Api(school.marlo.user)
            .get(asked({"term": place["term"], "offering": place["offering"]}))
            .json["results"]
        )


def test_a_list_of_places_costs_the_same_whatever_its_length(
    school: School,
    place: dict[str, int],
    django_assert_num_queries: Callable[[int], AbstractContextManager[object]],
) -> None:
    """Places, meetings, bookings: three queries for one or three places; filters leave the others
    out.
    """
    times = ((school.marlo, "16:30"), (school.noor, "17:30"), (school.marlo, "18:30"))
    for count, (who, at_) in enumerate(times, start=1):
        assert (
            Api(who.user)
            .post("weekly-places/", {**place, "weekday": "TU", "wall_time": at_})
            .status
            == 201
        )
        with django_assert_num_queries(3):
            assert len(Api(school.dag).get("weekly-places/").json["results"]) == count
    assert (
        len(
            Api(school.dag)
            .get(f"weekly-places/?term={place['term']}&student={school.marlo.pk}")
            .json["results"]
        )
        == 2
    )
    assert len(Api(school.noor.user).get("weekly-places/").json["results"]) == 1


def test_a_family_does_not_learn_how_full_the_instructors_day_is(
    school: School, place: dict[str, int]
) -> None:
    """A date that fails by the instructor's load is "taken" to the student, in the options and in
    the refusal; an admin reads the rule.
    """
    full = cast.make_offering("Long lesson", Kind.PRIVATE_LESSON, 360)
    cast.make_meeting(full, school.ilse, at("2027-03-02T09:00Z"))
    taken = {
        "on": "2027-03-02",
        "code": "taken",
        "detail": "That time is not free: choose another time.",
    }
    for who, code in ((school.noor.user, "taken"), (school.dag, "load-day")):
        (option,) = [
            option
            for option in Api(who)
            .get(asked(place, student=school.noor.pk, earliest="10:30", latest="14:30", limit=100))
            .json["results"]
            if (option["weekday"], option["wall_time"]) == ("TU", "16:30")
        ]
        assert option["failed"] == [{**taken, "code": code}]
        refused = Api(who).post("weekly-places/", {**place, **TUESDAY, "student": school.noor.pk})
        assert (refused.code, refused.json["dates"]) == ("term-dates", [{**taken, "code": code}])
