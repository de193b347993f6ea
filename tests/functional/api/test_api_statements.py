"""Statements of hours over the API: issued, read, corrected."""

import pytest

from bookings.domain.vocabulary import Attendance
from tests.functional.api.client import Api
from tests.school.statements import OVER, February

pytestmark = [pytest.mark.django_db, pytest.mark.sql]


@pytest.fixture
def school(monkeypatch):
    """The clock of every call stands at the morning of 1 March 2027."""
    monkeypatch.setattr("bookings.clock.now", lambda: OVER)
    return February()


def issued(school, **change):
    """Dag issues Ilse's February, with a change."""
    sent = {"instructor": school.ilse.pk, "first_on": "2027-02-01", "last_on": "2027-02-28"}
    return Api(school.dag).post("statements/", {**sent, **change})


def test_a_statement_is_issued_and_read_by_its_instructor(school):
    """Each line says date, zone, kind, minutes, outcome, whether it counts and why, and the total.

    Source: TRADE.md 1.10.
    """
    lesson = school.taught_on(3)
    made = issued(school)
    assert made.status == 201
    ilse = Api(school.ilse.user)
    assert ilse.get(made.headers["Location"]).json == made.json
    assert made.json["lines"] == [
        {
            "meeting": lesson.meeting_id,
            "on": "2027-02-03",
            "starts_at": "2027-02-03T16:00:00Z",
            "instructor_local_start": "2027-02-03T16:00:00+00:00",
            "instructor_time_zone": "Europe/Dublin",
            "kind": "private-lesson",
            "booked_minutes": 50,
            "outcome": "taught",
            "counts": True,
            "detail": "It was taught.",
            "counted_minutes": 50,
            "takes_back": False,
            "total_minutes": 50,
            "correction": 0,
        }
    ]
    (listed,) = ilse.get("statements/").json["results"]
    assert (listed["total_minutes"], listed["correction"]) == (50, 0)


def test_an_open_register_is_named(school):
    """The problem document names the meeting by id and start."""
    lesson = school.lesson_on(3)
    refused = issued(school)
    assert (refused.status, refused.code) == (409, "register-open")
    named = {"id": lesson.meeting_id, "starts_at": "2027-02-03T16:00:00Z"}
    assert refused.json["meetings"] == [named]


def test_an_empty_statement_is_refused_in_a_sentence(school):
    """Nobody can take it back."""
    refused = issued(school)
    assert (refused.status, refused.code) == (422, "invalid")
    assert "A statement of these days would be empty." in str(refused.json)
    assert Api(school.dag).get("statements/").json["results"] == []


def test_dates_that_have_a_statement_name_it(school):
    """So that the admin can read it."""
    school.taught_on(3)
    made = issued(school)
    again = issued(school, first_on="2027-02-28")
    assert (again.status, again.code) == (409, "already-done")
    assert again.json["statement"] == made.json["id"]


def test_only_what_was_read_is_corrected(school):
    """The tag changes with every register that matters; the answer has the counter-line."""
    lesson = school.taught_on(3)
    path, dag = f"statements/{issued(school).json['id']}/", Api(school.dag)
    school.mark(lesson, Attendance.ABSENT_WITH_NOTICE)
    read = dag.get(path)
    assert [line["counted_minutes"] for line in read.json["differing"]] == [-50, 0]
    school.mark(lesson, Attendance.INSTRUCTOR_ABSENT)
    old = {"If-Match": read.headers["ETag"]}
    assert dag.post(f"{path}correct/", headers=old).status == 412
    now = {"If-Match": dag.get(path).headers["ETag"]}
    corrected = dag.post(f"{path}correct/", headers=now)
    assert corrected.status == 200
    told = [(line["outcome"], line["takes_back"]) for line in corrected.json["lines"]]
    assert told == [("taught", False), ("taught", True), ("instructor-absent", False)]
    assert (corrected.json["total_minutes"], corrected.json["differing"]) == (0, [])
    assert dag.get("statements/").json["results"][0]["correction"] == 1


def test_a_list_is_narrowed_to_one_instructor(school):
    """An instructor who is not there is missed at the name."""
    school.taught_on(3)
    issued(school)
    dag, other = Api(school.dag), 999_999
    assert len(dag.get(f"statements/?instructor={school.ilse.pk}").json["results"]) == 1
    assert dag.get(f"statements/?instructor={other}").status == 404
