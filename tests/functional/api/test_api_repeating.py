"""A group meeting is duplicated over the API: one request, all dates or none."""

from bookings.models import Meeting
from tests.functional.api.client import Api
from tests.functional.api.school import School

SERIES = {"first_on": "2027-03-22", "wall_time": "18:00", "count": 2}


def test_a_series_is_made_in_one_request(school: School) -> None:
    """Each meeting comes back with its instant: 18:00 in Dublin before and after the change."""
    meeting, ilse = school.class_on(), Api(school.ilse.user)
    path = f"meetings/{meeting.pk}/"
    made = ilse.post(path + "duplicate/", SERIES, match=ilse.etag(path))
    assert made.status == 201
    assert [one["starts_at"] for one in made.json["results"]] == [
        "2027-03-22T18:00:00Z",
        "2027-03-29T17:00:00Z",
    ]
    assert {one["title"] for one in made.json["results"]} == {meeting.title}


def test_a_series_with_a_date_that_cannot_be_had_makes_nothing(school: School) -> None:
    """The refusal lists the date, which can then be left out."""
    meeting, ilse = school.class_on(), Api(school.ilse.user)
    path = f"meetings/{meeting.pk}/duplicate/"
    assert ilse.post(path, {**SERIES, "count": 1}, match="*").status == 201
    count = Meeting.objects.count()
    refused = ilse.post(path, SERIES, match="*")
    assert (refused.status, refused.code) == (409, "series-dates")
    assert [(day["on"], day["code"]) for day in refused.json["dates"]] == [("2027-03-22", "taken")]
    assert Meeting.objects.count() == count
    made = ilse.post(path, {**SERIES, "without": ["2027-03-22"]}, match="*")
    assert [one["starts_at"] for one in made.json["results"]] == ["2027-03-29T17:00:00Z"]
