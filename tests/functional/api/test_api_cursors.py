"""Cursors of the paged lists: each is good for the list and the reader that it was given to, and
for nothing else."""

from base64 import b64encode
from datetime import timedelta
from typing import Any
from urllib.parse import parse_qs, quote, urlsplit

import pytest

from bookings.domain.vocabulary import PlaceKind, Standing
from bookings.models import ProposedTimes
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import V1, Api, schema
from tests.functional.api.school import FRIDAY, School
from tests.functional.api.world import World, make_world


def _is_paged(path: str) -> bool:
    """Whether a GET at this address answers with a page."""
    answer = schema()["paths"][path].get("get", {}).get("responses", {}).get("200", {})
    content = answer.get("content", {}).get("application/json", {}).get("schema", {})
    named = schema()["components"]["schemas"].get(content.get("$ref", "").rpartition("/")[2], {})
    return {"next", "previous", "results"} <= set(named.get("properties", {}))


LISTS = sorted(path.removeprefix(V1) for path in schema()["paths"] if _is_paged(path))


def _unsigned(position: str) -> str:
    """A cursor as the library of the framework writes it, without a signature."""
    return b64encode(position.encode()).decode()


MADE_UP = [
    "",
    "x",
    "!!!!",
    "é",
    "=",
    "0",
    "null",
    "x" * 5000,
    "a.b",
    "a:b",
    _unsigned(""),
    _unsigned("o=1"),
    _unsigned("o=-5"),
    _unsigned("r=1"),
    _unsigned("p=abc"),
    _unsigned("p=5"),
    _unsigned("p=2027-99-99"),
    _unsigned("p=2027-03-05"),
    _unsigned("p=2027-03-05 15:00:00+00:00"),
    _unsigned("p=0001-01-01T00:00:00+14:00"),
    _unsigned("p=9999-12-31T23:59:59-12:00"),
    _unsigned("r=1&p=99999999999999999999"),
]


def of_noor(path: str, school: School) -> str:
    """The address of a list; a student's is Noor's."""
    return path.replace("{id}", str(school.noor.pk))


def next_cursor(api: Api, path: str) -> str:
    """The cursor of the second page."""
    following = api.get(f"{path}?page_size=1").json["next"]
    return parse_qs(urlsplit(following).query)["cursor"][0]


def refused_at_cursor(api: Api, path: str, cursor: str) -> None:
    reply = api.get(f"{path}?cursor={quote(cursor)}")
    assert (reply.status, reply.code) == (422, "invalid"), (path, cursor, reply.body)
    assert [error["pointer"] for error in reply.json["errors"]] == ["#/cursor"]


def test_the_lists_are_those_of_the_schema() -> None:
    """The walk finds the paged lists; were there none, every test below would pass for nothing."""
    assert len(LISTS) >= 6
    assert {"bookings/", "meetings/", "assessments/", "offers/"} <= set(LISTS)


@pytest.mark.parametrize("path", LISTS)
def test_a_made_up_cursor_is_refused_at_its_parameter(school: School, path: str) -> None:
    """A cursor that the API did not give never reaches the database, and never restarts the list in
    silence."""
    make_world(school)
    for cursor in MADE_UP:
        for who in (school.dag, school.ilse.user):
            if not path.endswith("assessments/") or who is not school.dag:
                refused_at_cursor(Api(who), of_noor(path, school), cursor)


@pytest.mark.parametrize("path", LISTS)
def test_a_cursor_of_another_list_is_refused(school: School, path: str) -> None:
    """A position in one list is a word without a meaning in another."""
    make_world(school)
    other = "bookings/" if path == "meetings/" else "meetings/"
    ilse = Api(school.ilse.user)
    refused_at_cursor(ilse, of_noor(path, school), next_cursor(ilse, other))


@pytest.mark.parametrize("path", LISTS)
def test_a_cursor_of_another_reader_is_refused(school: School, path: str) -> None:
    """A cursor tells where a list stood for one reader: it is no way to ask about another's."""
    make_second(make_world(school))
    is_taught = path in ("assessments/", "students/")
    giver = school.ilse.user if is_taught else school.noor.user
    reader = school.ilse.user if path.startswith("students/{") else school.wren.user
    address = of_noor(path, school)
    refused_at_cursor(Api(reader), address, next_cursor(Api(giver), address))


def make_second(world: World) -> None:
    """One more of what Noor has one of, so that each of their lists has a second page."""
    later = NOW + timedelta(hours=30)
    meeting = world.school.class_on(starts_at=FRIDAY + timedelta(days=40))
    offer = cast.make_booking(
        meeting, world.school.noor, standing=Standing.OFFERED, answer_by=later
    )
    offer.move_requests.create(asked_by=world.school.noor.user, starts_at=FRIDAY, asked_at=later)
    meeting.waiting.create(
        student=world.school.noor, place_kind=PlaceKind.LISTENER, joined_at=later
    )
    world.school.marlo.regular_instructor = world.school.ilse
    world.school.marlo.save(update_fields=["regular_instructor"])
    world.weekly.pk, world.weekly.weekday = None, world.weekly.weekday + 1
    world.weekly.save(force_insert=True)
    world.school.released(world.school.noor, world.school.ilse)
    first = world.proposed.proposed
    ProposedTimes.objects.create(
        student=first.student,
        offering=first.offering,
        instructor=first.instructor,
        made_at=first.made_at,
        answer_by=first.answer_by,
    )


def test_a_cursor_that_was_given_leads_through_the_whole_list(school: School) -> None:
    """Page by page forward and back, each row comes once, in order."""
    for day in range(5):
        cast.make_booking(school.class_on(starts_at=FRIDAY + timedelta(days=day)), school.noor)
    noor = Api(school.noor.user)
    rows, page = [], noor.get("bookings/?page_size=2").json
    rows += [row["id"] for row in page["results"]]
    while page["next"]:
        page = follow(noor, page["next"])
        rows += [row["id"] for row in page["results"]]
    whole = [row["id"] for row in noor.get("bookings/").json["results"]]
    assert rows == whole
    assert len(rows) == 5
    before = follow(noor, page["previous"])["results"]
    assert [row["id"] for row in before] == rows[2:4]


def follow(api: Api, address: str) -> Any:
    """The page at an address that the API gave."""
    parts = urlsplit(address)
    return api.get(f"{parts.path}?{parts.query}").json
