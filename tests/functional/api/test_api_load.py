"""Load, its exceptions, fit and explanations over the API, and what a search costs."""

from datetime import timedelta
from io import StringIO
from urllib.parse import urlencode

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from knox.models import AuthToken
from rest_framework.test import APIClient

from accounts.models import Student
from bookings.models import AuditRow
from tests import cast
from tests.cast import at
from tests.functional.api.client import Api
from tests.functional.api.nearly_full import NOON, explain, starts, two_hours
from tests.functional.api.school import FRIDAY, School

pytestmark = pytest.mark.sql

__all__ = ["two_hours"]


def test_load_and_their_own_exception(two_hours: School):
    """TRADE.md 8, scenario 8: a start that would touch the run is not offered; when they themselves
    allow it, it is, and that is recorded.
    """
    school, noor = two_hours, two_hours.noor.user
    assert starts(noor, school, NOON, NOON + timedelta(hours=1)) == ["2027-03-03T12:30:00Z"]
    reply = Api(noor).post("bookings/", school.slot(starts_at="2027-03-03T12:00:00Z"))
    assert (reply.status, reply.code) == (409, "taken")  # the last of their two hours
    half_past_ten = NOON - timedelta(hours=2, minutes=30)
    refused = Api(noor).post("bookings/", school.slot(starts_at=half_past_ten.isoformat()))
    taken = Api(noor).post(
        "bookings/", school.slot(starts_at=(NOON - timedelta(minutes=30)).isoformat())
    )
    assert (refused.status, refused.code) == (
        409,
        "taken",
    )  # which rule it was would tell of their other meetings
    assert refused.json == taken.json | {"near": refused.json["near"]}
    assert refused.json["near"]
    by_dag = Api(school.dag).post(
        "bookings/", school.slot(starts_at=half_past_ten.isoformat(), student=school.noor.pk)
    )
    assert (by_dag.status, by_dag.code) == (409, "load-run")
    allowed = Api(school.ilse.user).post(
        "load-allowances/", {"starts_at": half_past_ten.isoformat()}
    )
    assert (allowed.status, allowed.json["starts_at"]) == (201, "2027-03-03T09:30:00Z")
    assert "2027-03-03T09:30:00Z" in starts(noor, school, half_past_ten, NOON)
    assert (
        Api(noor).post("bookings/", school.slot(starts_at=half_past_ten.isoformat())).status == 201
    )
    assert list(
        AuditRow.objects.filter(verb="allowed over load").values_list("actor", flat=True)
    ) == [school.ilse.user.pk]
    assert [
        row["starts_at"] for row in Api(school.ilse.user).get("load-allowances/").json["results"]
    ] == ["2027-03-03T09:30:00Z"]


def test_an_exception_is_theirs_alone_and_made_once(school: School):
    """Twice is once; the past and a start off the 5 minutes are refused, and so is everybody who
    does not teach.
    """
    ilse = Api(school.ilse.user)
    first, second = (
        ilse.post("load-allowances/", {"starts_at": FRIDAY.isoformat()}) for _ in range(2)
    )
    assert first.json == second.json
    assert AuditRow.objects.filter(verb="allowed over load").count() == 1
    assert ilse.post("load-allowances/", {"starts_at": "2027-02-01T10:00:00Z"}).code == "past"
    assert ilse.post("load-allowances/", {"starts_at": "2027-04-01T10:02:00Z"}).code == "off-grid"
    assert (
        Api(school.dag).post("load-allowances/", {"starts_at": FRIDAY.isoformat()}).code
        == "not-allowed"
    )


def test_minors_night(school: School):
    """TRADE.md 8, scenario 5: Saturday 20:00 in Dublin is Posy's Sunday 07:00, refused with that
    time named; 09:00 is offered.
    """
    late, early = at("2027-03-06T20:00:00Z"), at("2027-03-06T09:00:00Z")
    reply = Api(school.hedda).post(
        "bookings/", school.slot(starts_at=late.isoformat(), student=school.posy.pk)
    )
    assert (reply.status, reply.code) == (409, "minor-hours")
    assert "07:00 on Sunday 7 March 2027 (Sydney)" in reply.json["detail"]
    (reason,) = explain(school.hedda, school, late, student=school.posy.pk).json["refusals"]
    assert (reason["rule"], reason["numbers"]["local_start"]) == (
        "a minor's hours",
        "2027-03-07T07:00:00+11:00",
    )
    told = explain(school.hedda, school, early, student=school.posy.pk).json
    assert (told["offered"], told["local_start"]) == (True, "2027-03-06T20:00:00+11:00")


def test_staff_read_the_numbers_and_which_meeting_a_student_reads_not_free(two_hours: School):
    """The run with its minutes and the meeting by its number go to Ilse and Dag; Noor reads "not
    free" of either.
    """
    school = two_hours
    half_past_ten = NOON - timedelta(hours=2, minutes=30)
    for who in (school.ilse.user, school.dag):
        (reason,) = explain(who, school, half_past_ten).json["refusals"]
        assert (reason["rule"], reason["code"]) == ("run", "load-run")
        assert reason["detail"].startswith("120 minutes in a row would become 145:")
        assert reason["numbers"] == {
            "limit_minutes": 120,
            "taught_minutes": 120,
            "would_be_minutes": 145,
        }
        (taken,) = explain(who, school, NOON - timedelta(minutes=30)).json["refusals"]
        assert taken["offering"]["name"] == "Long lesson"
        assert taken["numbers"]["kind"] == "meeting"
    for start in (half_past_ten, NOON - timedelta(minutes=30)):
        (told,) = explain(school.noor.user, school, start).json["refusals"]
        assert told == {
            "rule": "not free",
            "code": "taken",
            "detail": "That time is not free: choose another time.",
            "numbers": {},
            "meeting": None,
            "offering": None,
        }


def test_an_offered_start_says_how_well_it_fits(school: School):
    """No reason stands against it; its fit and words are those of the search."""
    school.released(school.noor, school.ilse)
    told = explain(school.noor.user, school, NOON + timedelta(hours=2)).json
    assert (told["offered"], told["refusals"]) == (True, [])
    assert "With the instructor of the latest assessment." in told["fit_reasons"]
    wanted = urlencode(
        {
            "offering": school.consultation.pk,
            "from": (NOON + timedelta(hours=2)).isoformat(),
            "limit": 1,
        }
    )
    both = Api(school.noor.user).get(f"slots/?{wanted}").json["results"]
    fits = {slot["instructor"]["id"]: slot["fit"] for slot in both}
    assert fits[school.ilse.pk] == told["fit"] == fits[school.wren.pk] + 20


def test_what_cannot_be_explained_is_refused(school: School):
    """A group meeting has no slots, an unknown instructor none either, and one who does not teach
    it at that level says so.
    """
    assert explain(school.noor.user, school, offering=school.group.pk).code == "wrong-kind"
    assert explain(school.noor.user, school, instructor=999).code == "not-found"
    school.ilse.teaches.update(lowest_level=9)
    assert explain(school.noor.user, school).code == "not-taught"
    assert explain(school.ilse.user, school).json["offered"] is True
    herself = Student.objects.create(user=school.ilse.user, level=9, unit=2)
    assert explain(school.ilse.user, school, student=herself.pk).code == "not-taught"


@pytest.mark.parametrize("size", [1, 12])
def test_a_search_takes_eight_queries_whatever_the_size(school: School, size: int):
    """With a real token, instructors with weeks, extra hours, days away, meetings and exceptions:
    never more than eight.
    """
    for number in range(size):
        person = cast.make_instructor(f"Colleague {number}")
        cast.teaches(person, school.consultation)
        cast.publish(person, cast.EVERY_DAY)
        person.extra_hours.create(on=FRIDAY.date(), opens=0, closes=60, time_zone="Europe/Dublin")
        person.days_away.create(
            first_on=FRIDAY.date(), last_on=FRIDAY.date(), time_zone="Europe/Dublin"
        )
        cast.make_meeting(school.consultation, person, NOON)
        person.load_allowances.create(starts_at=NOON, allowed_by=person.user, allowed_at=NOON)
    school.released(school.noor, school.ilse)
    _, token = AuthToken.objects.create(school.noor.user)
    client = APIClient(headers={"Authorization": f"Bearer {token}"})
    with CaptureQueriesContext(connection) as counted:
        response = client.get(f"/api/v1/slots/?offering={school.consultation.pk}")
    assert response.status_code == 200
    assert len(response.json()["results"]) >= 200
    assert len(counted) <= 8, [
        query["sql"][:40] + "..." + query["sql"].partition("FROM")[2][:50] for query in counted
    ]


def test_the_command_explains_with_names_and_numbers(two_hours: School):
    """`manage.py explain_slot` prints both clocks and each rule; for a free start its fit."""
    out = StringIO()
    ilse = two_hours.ilse.user.email
    call_command(
        "explain_slot",
        "Consultation",
        ilse,
        "2027-03-03T09:30:00Z",
        student=two_hours.noor.pk,
        stdout=out,
    )
    assert (
        "09:30 on Wednesday 3 March 2027 (Dublin), 04:30 on Wednesday 3 March 2027 (New York)"
        in out.getvalue()
    )
    assert "run: 120 minutes in a row would become 145" in out.getvalue()
    out = StringIO()
    call_command(
        "explain_slot",
        "Consultation",
        ilse,
        "2027-03-04T15:00:00Z",
        student=two_hours.noor.pk,
        stdout=out,
    )
    assert "Offered, fit " in out.getvalue()
    for wrong in (
        ("No such", ilse, "2027-03-04T15:00:00Z"),
        ("Consultation", ilse, "noon"),
        ("Consultation", ilse, "2027-03-04T15:00"),
    ):
        with pytest.raises(CommandError):
            call_command("explain_slot", *wrong)
