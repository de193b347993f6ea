"""The schema and the addresses are one; every list has a fixed price in queries."""

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.api.urls import version_1
from tests import cast
from tests.functional.api.client import V1, Api, schema
from tests.functional.api.school import FRIDAY, School

pytestmark = pytest.mark.sql


def test_the_schema_names_every_address_and_no_other() -> None:
    """What urls.py serves is what the schema describes, method for method."""
    served = {
        (re.sub(r"<id:pk>", "{id}", f"{V1}{route.pattern}"), verb)
        for route in version_1
        for verb in ("get", "post", "put", "patch", "delete")
        if hasattr(route.callback.cls, verb)
    }
    described = {(path, verb) for path, verbs in schema()["paths"].items() for verb in verbs}
    assert described == served


def test_every_write_takes_an_idempotency_key() -> None:
    """Signing in and out aside, every POST, PUT, PATCH and DELETE says so."""
    for path, verbs in schema()["paths"].items():
        for verb in {"post", "put", "patch", "delete"} & set(verbs):
            names = {parameter["name"] for parameter in verbs[verb].get("parameters", [])}
            assert ("Idempotency-Key" in names) == ("/tokens/" not in path), (verb, path)


def test_schema_and_documents_are_open_and_load_nothing_foreign(school: School) -> None:
    """Both are readable without signing in; the documents' page runs no inline script."""
    assert Api().get("/api/schema/").status == 200
    page = Api().get("/api/docs/")
    assert page.status == 200
    assert "script-src 'unsafe-inline'" not in page.headers["Content-Security-Policy"]
    assert b"<script>" not in page.body
    assert re.findall(rb'(?:src|href)="https?://[^"]+', page.body) == []


def test_answers_are_kept_by_nobody(school: School) -> None:
    """A signed-in answer is for one reader: no cache keeps it.

    Source: OWASP ASVS 5.0.0, V14.3.2.
    """
    assert Api(school.noor.user).get("me/").headers["Cache-Control"].split(", ") == [
        "no-store",
        "private",
    ]


def fill(school: School, count: int) -> None:
    """That many students, each in a consultation, a class and its waiting list, and that many
    notes, extra hours and offerings.
    """
    full = school.class_on(places=count, starts_at=FRIDAY + timedelta(days=30))
    for i in range(count):
        student = cast.make_student(f"Student {i}")
        meeting = cast.make_meeting(
            school.consultation, school.ilse, FRIDAY + timedelta(hours=i), taken=0
        )
        cast.make_booking(meeting, student)
        cast.make_booking(full, student)
        full.waiting.create(student=student, place_kind="listener", joined_at=cast.NOW)
        cast.make_assessment(student, school.ilse)
        school.ilse.extra_hours.create(
            on=FRIDAY.date() + timedelta(days=i), opens=0, closes=60, time_zone="Europe/Dublin"
        )
        school.ilse.days_away.create(
            first_on=FRIDAY.date(), last_on=FRIDAY.date(), time_zone="Europe/Dublin"
        )
        cast.teaches(school.ilse, cast.make_offering(f"Offering {i}"))


# What a call may ask of the database at most, signing in aside. Where bookings are seen, one of
# these asks whom the reader answers for.
BUDGETS: dict[str, tuple[int, Callable[[School], str]]] = {
    "me": (2, lambda school: "me/"),
    "offerings": (3, lambda school: "offerings/"),
    "bookings": (2, lambda school: "bookings/"),
    "meetings": (3, lambda school: "meetings/"),
    "roster": (2, lambda school: f"meetings/{school.group.meetings.get().pk}/roster/"),
    "waiting list": (2, lambda school: f"meetings/{school.group.meetings.get().pk}/waiting-list/"),
    "teaching hours": (3, lambda school: "teaching-hours/"),
    "extra hours": (2, lambda school: "extra-hours/"),
    "days away": (2, lambda school: "days-away/"),
    "assessments": (2, lambda school: "assessments/"),
    "offers": (2, lambda school: "offers/"),
}


@pytest.mark.parametrize("call", BUDGETS)
@pytest.mark.parametrize("size", [1, 12])
def test_a_list_costs_the_same_whatever_its_length(school: School, call: str, size: int) -> None:
    """One row or twelve: exactly the same few queries."""
    fill(school, size)
    budget, path_of = BUDGETS[call]
    path = path_of(school)
    with CaptureQueriesContext(connection) as asked:
        assert Api(school.ilse.user).get(path).status == 200
    assert len(asked) == budget, [query["sql"] for query in asked]


def test_slots_cost_nine_queries_whatever_is_stored(school: School) -> None:
    """Offering, student, policy, instructors, their hours (three), their meetings, the student's
    own.
    """
    fill(school, 12)
    for _ in range(2):
        with CaptureQueriesContext(connection) as asked:
            reply = Api(school.noor.user).get(f"slots/?offering={school.consultation.pk}&limit=500")
        assert len(reply.json["results"]) > 100
        assert len(asked) <= 9, [query["sql"] for query in asked]
        for i in range(5):
            cast.teaches(cast.make_instructor(f"Teacher {i}{_}"), school.consultation)


def test_booking_has_a_fixed_price(school: School) -> None:
    """A booking with its key, its rules, its mail and its audit row: thirty statements at most."""
    noor = Api(school.noor.user)
    with CaptureQueriesContext(connection) as asked:
        assert noor.post("bookings/", school.slot(), key="one").status == 201
    statements = [
        query["sql"]
        for query in asked
        if not query["sql"].startswith(("SAVEPOINT", "RELEASE", "BEGIN"))
    ]
    assert len(statements) <= 30, statements
