"""An instructor's day over the API, in the words of the page."""

from datetime import timedelta

import pytest

from bookings.models import Intake
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api
from tests.functional.api.school import FRIDAY, School

pytestmark = pytest.mark.sql


def test_a_day_says_who_comes_what_is_new_and_what_waits(school: School) -> None:
    """One consultation with two questions, and a lesson two weeks before that is not marked."""
    cast.taught(school.ilse, school.noor, school.consultation, FRIDAY - timedelta(days=14))
    booking = cast.make_booking(
        cast.make_meeting(school.consultation, school.ilse, FRIDAY), school.noor
    )
    Intake.objects.create(booking=booking, questions=["One", "Two"], written_at=NOW)
    day = Api(school.ilse.user).get(f"today/?on={FRIDAY:%Y-%m-%d}").json
    assert (day["on"], day["time_zone"]) == (f"{FRIDAY:%Y-%m-%d}", "Europe/Dublin")
    (entry,) = day["entries"]
    assert entry["join_address"] == school.ilse.room
    assert entry["news"] == ["Two questions.", "Last seen two weeks ago."]
    (place,) = entry["people"]
    assert (place["booking"], place["student"]["name"]) == (booking.pk, "Noor Ashgrove")
    (due,) = day["waiting"]
    assert (due["what"], due["count"]) == ("wrap-up", 1)
    assert (place["attendance"], entry["is_to_wrap_up"]) == (None, False)
    before = Api(school.ilse.user).get(f"today/?on={FRIDAY - timedelta(days=14):%Y-%m-%d}").json
    assert [entry["is_to_wrap_up"] for entry in before["entries"]] == [True]


def test_a_minor_s_surname_is_not_told(school: School) -> None:
    """An instructor knows a child by the first name."""
    cast.make_booking(cast.make_meeting(school.consultation, school.ilse, FRIDAY), school.posy)
    reply = Api(school.ilse.user).get(f"today/?on={FRIDAY:%Y-%m-%d}")
    assert reply.json["entries"][0]["people"][0]["student"]["name"] == "Posy"
    assert b"Lindqvist" not in reply.body


def test_a_meeting_across_midnight_belongs_to_both_days(school: School) -> None:
    """Dublin's midnight between 8 and 9 March."""
    cast.make_meeting(school.group, school.ilse, cast.at("2027-03-08T23:40Z"), title="Late airs")
    ilse = Api(school.ilse.user)
    for on, count in (("2027-03-07", 0), ("2027-03-08", 1), ("2027-03-09", 1), ("2027-03-10", 0)):
        assert len(ilse.get(f"today/?on={on}").json["entries"]) == count, on


def test_a_day_is_for_instructors_and_has_a_date(school: School) -> None:
    """Students and admins have none, and what is no date is refused."""
    for user in (school.noor.user, school.hedda, school.dag):
        assert Api(user).get("today/").code == "not-allowed"
    assert Api(school.ilse.user).get("today/?on=today").code == "invalid"
    assert Api(school.ilse.user).get("today/").status == 200
