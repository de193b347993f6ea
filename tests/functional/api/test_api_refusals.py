"""Every refusal is a problem with a code and a sentence, and leaves nothing half-written."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.models import OutboxMessage
from tests import cast
from tests.functional.api.client import Api, snapshot
from tests.functional.api.refusals import refused
from tests.functional.api.school import FOR_POSY, FRIDAY, School

pytestmark = pytest.mark.sql

# A start that is refused, and the code it is refused with; each changes one thing of a booking that
# would be accepted.
STARTS = {
    "naive-time": {"starts_at": "2027-03-05T15:00:00"},
    "clock-fold": {"starts_at": "2027-11-07T01:30", "time_zone": "America/New_York"},
    "clock-gap": {"starts_at": "2027-03-14T02:30", "time_zone": "America/New_York"},
    "unknown-zone": {"starts_at": "2027-03-05T15:00", "time_zone": "Mars/Olympus"},
    "off-grid": {"starts_at": "2027-03-05T15:10:00Z"},
    "too-soon": {"starts_at": "2027-03-01T20:30:00Z"},
    "too-far": {"starts_at": "2027-05-05T15:00:00Z"},
    "past": {"starts_at": "2027-02-26T15:00:00Z"},
    "outside-hours": {"starts_at": "2027-03-05T22:00:00Z"},
}
NEAR = {"off-grid", "too-soon", "past", "outside-hours"}


@pytest.mark.parametrize("code", STARTS)
def test_a_start_that_cannot_be_had_says_why(school: School, code: str) -> None:
    """Each rule about a start has its own code; a one-on-one's refusal names three starts nearby
    where there are any.
    """
    before = snapshot()
    problem = refused(Api(school.noor.user).post("bookings/", school.slot(**STARTS[code])), code)
    if code in NEAR:
        assert len(problem["near"]) == 3
    assert snapshot() == before


def test_a_taken_start_and_ones_own_clash(school: School) -> None:
    """Somebody else's time is "taken", one's own is "own-clash"; both come with times that would
    do.
    """
    school.booked()
    before = snapshot()
    taken = refused(Api(school.marlo.user).post("bookings/", school.slot()), "taken")
    assert school.slot()["starts_at"] not in {slot["starts_at"] for slot in taken["near"]}
    clash = refused(
        Api(school.noor.user).post("bookings/", school.slot(instructor=school.wren.pk)), "own-clash"
    )
    assert len(taken["near"]) == len(clash["near"]) == 3
    assert snapshot() == before


def test_a_minor_is_kept_inside_their_own_day(school: School) -> None:
    """Friday 15:00 in Dublin is Saturday 02:00 in Sydney: not for a child there."""
    problem = refused(Api(school.hedda).post("bookings/", school.slot()), "minor-hours")
    assert problem["local_start"] == "2027-03-06T02:00:00+11:00"
    assert len(problem["near"]) == 3


def test_a_minor_without_consent_is_refused_and_their_guardian_asked_once(school: School) -> None:
    """Nothing is held; one request goes to the guardian, however often somebody tries."""
    fenn = cast.make_minor("Fenn Ashgrove", guardian=cast.make_user("Rue Ashgrove"), consent=False)
    dag = Api(school.dag)
    for _ in range(2):
        refused(
            dag.post("bookings/", school.slot(student=fenn.pk, starts_at=FOR_POSY.isoformat())),
            "consent-missing",
        )
    assert list(OutboxMessage.objects.values_list("kind", flat=True)) == ["consent"]


def test_no_place_is_left(school: School) -> None:
    """A full meeting refuses the next, and a waiting list refuses whoever is on it."""
    meeting = school.class_on(places=1)
    cast.make_booking(meeting, school.marlo)
    noor, path = Api(school.noor.user), f"meetings/{meeting.pk}/waiting-list/"
    refused(noor.post("bookings/", {"meeting": meeting.pk}), "no-place")
    refused(noor.delete(path), "not-waiting")
    assert noor.post(path, {}).status == 201
    refused(noor.post(path, {}), "already-waiting")
    refused(Api(school.marlo.user).post(path, {}), "already-booked")


def test_what_is_not_ones_own_is_not_there(school: School) -> None:
    """Somebody else's booking, a booking that never was, another family's child: the same answer,
    and nothing changes.
    """
    booking, marlo = school.booked(), Api(school.marlo.user)
    before = snapshot()
    mine, none = (
        marlo.get(f"bookings/{pk}/").body.replace(f"/{pk}/".encode(), b"/x/")
        for pk in (booking["id"], 999_999)
    )
    assert mine == none
    refused(marlo.post(f"bookings/{booking['id']}/cancel/", match="*"), "not-found")
    refused(marlo.post("bookings/", school.slot(student=school.posy.pk)), "not-found")
    refused(
        Api(school.ilse.user).post(f"bookings/{booking['id']}/cancel/", match="*"), "not-allowed"
    )
    assert snapshot() == before


WEEK = {
    "time_zone": "Europe/Dublin",
    "windows": [{"weekday": "MO", "opens": "09:00", "closes": "10:00"}],
}
HOURS: list[tuple[str, dict[str, Any]]] = [
    ("unknown-zone", {**WEEK, "time_zone": "Dublin"}),
    (
        "end-before-start",
        {**WEEK, "windows": [{"weekday": "MO", "opens": "10:00", "closes": "09:00"}]},
    ),
    ("invalid", {**WEEK, "windows": [{"weekday": "MO", "opens": "09:02", "closes": "10:00"}]}),
    ("invalid", {**WEEK, "windows": [{"weekday": "monday", "opens": "09:00", "closes": "10:00"}]}),
    ("invalid", {**WEEK, "windows": [{"weekday": "MO", "opens": "25:00", "closes": "26:00"}]}),
    ("invalid", {**WEEK, "windows": WEEK["windows"] * 2}),
    ("invalid", {"windows": []}),
]


@pytest.mark.parametrize(("code", "week"), HOURS)
def test_a_week_that_cannot_be(school: School, code: str, week: dict[str, Any]) -> None:
    """Zones that do not exist, ends before starts, times off five minutes, windows that overlap:
    the old week stays.
    """
    before = snapshot()
    refused(Api(school.ilse.user).put("teaching-hours/", week, match="*"), code)
    assert snapshot() == before


def test_days_away_end_after_they_begin(school: School) -> None:
    """The last day does not come before the first."""
    refused(
        Api(school.ilse.user).post(
            "days-away/", {"first_on": "2027-03-09", "last_on": "2027-03-08"}
        ),
        "end-before-start",
    )


def test_a_search_is_bounded(school: School) -> None:
    """Sixty-two days at a time, `to` after `from`, zones that exist, one-on-one offerings."""
    noor, offering = Api(school.noor.user), f"slots/?offering={school.consultation.pk}"
    refused(noor.get(f"{offering}&from=2027-03-02&to=2027-06-02"), "invalid")
    refused(noor.get(f"{offering}&from=2027-03-02&to=2027-03-02"), "end-before-start")
    refused(noor.get(f"{offering}&from=2027-03-02T10:00:00"), "naive-time")
    refused(noor.get(f"{offering}&time_zone=Nowhere"), "unknown-zone")
    refused(noor.get(f"{offering}&earliest=18:00&latest=09:00"), "end-before-start")
    refused(noor.get(f"slots/?offering={school.group.pk}"), "wrong-kind")
    refused(noor.get("slots/"), "invalid")


def test_places_never_fall_below_those_taken(school: School) -> None:
    """An instructor who lowers the places is told how many are taken."""
    meeting = school.class_on(places=2)
    for student in (school.noor, school.marlo):
        cast.make_booking(meeting, student)
    problem = refused(
        Api(school.ilse.user).patch(f"meetings/{meeting.pk}/", {"places": 1}, match="*"),
        "has-bookings",
    )
    assert problem["errors"][0]["pointer"] == "#/places"


def test_a_meeting_never_lies_on_another(school: School) -> None:
    """Changeover included: a group meeting right after a consultation is refused."""
    school.booked()
    body = {
        "offering": school.group.pk,
        "title": "Chords",
        "places": 3,
        "starts_at": (FRIDAY + timedelta(minutes=25)).isoformat(),
    }
    refused(Api(school.ilse.user).post("meetings/", body), "taken")


@pytest.mark.postgres
def test_who_comes_too_late_takes_no_lock(school: School) -> None:
    """The instructor is read together with what stands at that time, so rivals of the winner do not
    wait for each other.
    """
    school.booked()
    with CaptureQueriesContext(connection) as sent:
        refused(Api(school.marlo.user).post("bookings/", school.slot()), "taken")
    assert not any("FOR NO KEY UPDATE" in query["sql"] for query in sent)


def test_who_comes_too_late_is_judged_by_what_the_times_nearby_are_found_in(school: School) -> None:
    """One reading for the refusal and for the three starts nearby: eight queries after sign-in."""
    school.booked()
    api = Api(school.marlo.user)
    refused(api.post("bookings/", school.slot()), "taken")
    with CaptureQueriesContext(connection) as sent:
        problem = refused(api.post("bookings/", school.slot()), "taken")
    asked = [query["sql"] for query in sent if query["sql"].startswith(("SELECT", "(SELECT"))]
    assert len(problem["near"]) == 3
    assert len(asked) <= 8, "\n".join(sql[:90] for sql in asked)
