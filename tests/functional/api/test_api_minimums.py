"""A minimum to run over HTTP: made with the meeting, decided at its time or by an admin."""

from datetime import timedelta

import pytest
import time_machine
from django.test import Client

from bookings import tasks
from bookings.domain.timeline import rfc3339
from bookings.models import OutboxMessage
from tests import cast
from tests.functional.api.client import Api, Reply
from tests.functional.api.refusals import refused
from tests.functional.api.school import FRIDAY, School

STARTS_AT = FRIDAY + timedelta(days=8)
DECIDE_BY = STARTS_AT - timedelta(days=2)


def made(school: School, **more: object) -> Reply:
    """A group meeting of Ilse's for four, which needs three."""
    asked = {
        "offering": school.group.pk,
        "title": "Chords that speak",
        "places": 4,
        "starts_at": rfc3339(STARTS_AT),
        "minimum": 3,
        "decide_by": rfc3339(DECIDE_BY),
        **more,
    }
    sent = {name: value for name, value in asked.items() if value is not None}
    return Api(school.ilse.user).post("meetings/", sent)


def test_too_few_by_the_time_to_decide(
    school: School, clock_stands_still: time_machine.Traveller
) -> None:
    """Source: TRADE.md 8 (17): minimum 3 and 2 enrolled; when the time passes, all are told at
    once, in one message each, and the calendars show it called off, not vanished.
    """
    meeting = made(school)
    assert (meeting.status, meeting.json["status"], meeting.json["minimum"]) == (
        201,
        "TENTATIVE",
        3,
    )
    assert meeting.json["decide_by"] == rfc3339(DECIDE_BY)
    families = [Api(student.user) for student in (school.noor, school.marlo)]
    for api in families:
        booked = api.post("bookings/", {"meeting": meeting.json["id"]})
        assert (booked.status, booked.json["status"]) == (201, "TENTATIVE")
    secrets = [api.post("feeds/", {"name": "Phone"}).json["address"] for api in families]
    assert "STATUS:TENTATIVE" in _feed(secrets[0])
    tasks.drain_outbox()
    before = OutboxMessage.objects.count()
    clock_stands_still.move_to(DECIDE_BY - timedelta(seconds=1))
    tasks.enqueue_due()
    assert OutboxMessage.objects.count() == before
    clock_stands_still.move_to(DECIDE_BY)
    tasks.enqueue_due()
    tasks.enqueue_due()
    told = OutboxMessage.objects.order_by("pk")[before:]
    assert {row.recipient.name for row in told} == {"Noor Ashgrove", "Marlo Vance", "Ilse Quarrow"}
    assert [row.method for row in told] == ["CANCEL"] * 3
    for api, secret in zip(families, secrets, strict=True):
        (row,) = api.get("bookings/").json["results"]
        assert (row["status"], row["ended_reason"]) == ("CANCELLED", "called-off")
        assert "STATUS:CANCELLED" in _feed(secret)


def _feed(secret: str) -> str:
    return Client().get(secret.partition("testserver")[2] or secret).content.decode()


def test_an_admin_says_that_it_runs(school: School) -> None:
    """Once; the instructor may not, and a family has no such address."""
    meeting = made(school).json["id"]
    dag, path = Api(school.dag), f"meetings/{meeting}/it-runs/"
    refused(Api(school.ilse.user).post(path, match="*"), "not-allowed")
    refused(Api(school.noor.user).post(path, match="*"), "not-found")
    done = dag.post(path, match=dag.etag(f"meetings/{meeting}/"))
    assert (done.status, done.json["status"], done.json["minimum"]) == (200, "CONFIRMED", 3)
    refused(dag.post(path, match=done.etag), "already-done")


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"minimum": 5}, "invalid"),
        ({"minimum": 0}, "invalid"),
        ({"minimum": None}, "invalid"),
        ({"decide_by": None}, "invalid"),
        ({"decide_by": rfc3339(STARTS_AT)}, "invalid"),
        ({"decide_by": rfc3339(cast.NOW)}, "past"),
        ({"decide_by": "2027-03-10T18:00:00"}, "naive-time"),
    ],
)
def test_a_minimum_that_cannot_be_is_refused(
    school: School, more: dict[str, object], code: str
) -> None:
    """Above the places, none, half of it, decided at the start, decided already, without offset."""
    refused(made(school, **more), code)


def test_a_change_that_the_minimum_forbids_is_pointed_at(school: School) -> None:
    """At the places or the start, which were sent, and not at the minimum, which was not."""
    meeting = made(school).json["id"]
    for changed in ({"places": 2}, {"starts_at": rfc3339(DECIDE_BY)}):
        reply = Api(school.ilse.user).patch(f"meetings/{meeting}/", changed, match="*")
        refused(reply, "invalid")
        assert [row["pointer"] for row in reply.json["errors"]] == [f"#/{name}" for name in changed]


def test_a_minimum_is_set_later_and_changed(school: School) -> None:
    """Before the first booking, and while it is not decided."""
    ilse, meeting = Api(school.ilse.user), school.class_on(places=4)
    path = f"meetings/{meeting.pk}/minimum/"
    asked = {"minimum": 3, "decide_by": rfc3339(meeting.starts_at - timedelta(hours=6))}
    first = ilse.put(path, asked, match=ilse.etag(f"meetings/{meeting.pk}/"))
    assert (first.status, first.json["status"]) == (200, "TENTATIVE")
    Api(school.noor.user).post("bookings/", {"meeting": meeting.pk})
    again = ilse.put(path, {**asked, "minimum": 2}, match="*")
    assert (again.status, again.json["minimum"]) == (200, 2)
    refused(ilse.put(path, {**asked, "minimum": 9}, match="*"), "invalid")
    certain = school.class_on(starts_at=FRIDAY + timedelta(days=9))
    cast.make_booking(certain, school.noor)
    refused(ilse.put(f"meetings/{certain.pk}/minimum/", asked, match="*"), "has-bookings")
