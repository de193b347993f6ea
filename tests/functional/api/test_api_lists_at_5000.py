"""Every list at 5,000 rows: a page of it takes a fixed number of statements, whoever reads it."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.db.models import UUIDField
from django.test.utils import CaptureQueriesContext

from accounts.models import Student, Welcome
from bookings.domain.vocabulary import NoteState, PlaceKind, Standing
from bookings.models import (
    Assessment,
    Booking,
    DaysAway,
    ExtraHours,
    Feed,
    LoadAllowance,
    Meeting,
    OwedLesson,
    WaitingPlace,
)
from tests import cast
from tests.cast import NOW
from tests.functional.api.judging import parameters
from tests.functional.api.matrix import MATRIX
from tests.functional.api.paged_lists import LISTS, make_full_world, page_of, readers
from tests.functional.api.school import School
from tests.functional.api.world import World
from tests.functional.pages.full_school import add_students

pytestmark = [pytest.mark.heavy, pytest.mark.sql]

MANY = 5_000
STATEMENTS = 12


@pytest.fixture
def world(school: School) -> World:
    """A world of one of everything, and 5,000 more of what a school gets many of."""
    world = make_full_world(school)
    students = add_students(MANY)
    _lessons(school)
    _hours(school)
    _papers(school, world, students)
    return world


def _lessons(school: School) -> None:
    """Past lessons of Noor's, one an hour, with a note about each."""
    first = cast.make_meeting(school.consultation, school.ilse, NOW - timedelta(hours=MANY + 24))
    at = [first.starts_at + timedelta(hours=number + 1) for number in range(MANY)]
    length = {name: getattr(first, name) - first.starts_at for name in ("ends_at", "held_until")}
    meetings = Meeting.objects.bulk_create(
        _copied(first, starts_at=start, **{name: start + each for name, each in length.items()})
        for start in at
    )
    booking = cast.make_booking(first, school.noor)
    Booking.objects.bulk_create(
        _copied(booking, meeting=one, starts_at=one.starts_at, ends_at=one.ends_at)
        for one in meetings
    )
    note = cast.make_assessment(school.noor, school.ilse, state=NoteState.RELEASED, released_at=NOW)
    Assessment.objects.bulk_create(_copied(note) for _ in range(MANY))


def _hours(school: School) -> None:
    """What Ilse keeps of her hours."""
    day, zone = NOW.date(), "Europe/Dublin"
    days = [day + timedelta(days=number) for number in range(MANY)]
    hours = {"instructor": school.ilse, "time_zone": zone}
    ExtraHours.objects.bulk_create(
        ExtraHours(on=one, opens=1380, closes=1440, **hours) for one in days
    )
    DaysAway.objects.bulk_create(DaysAway(first_on=one, last_on=one, **hours) for one in days)
    LoadAllowance.objects.bulk_create(
        LoadAllowance(
            instructor=school.ilse,
            starts_at=NOW + timedelta(hours=number + 1, minutes=7),
            allowed_by=school.ilse.user,
            allowed_at=NOW,
        )
        for number in range(MANY)
    )


def _papers(school: School, world: World, students: list[Student]) -> None:
    """Invitations, calendars, places on a waiting list, owed lessons."""
    Welcome.objects.bulk_create(
        Welcome(
            email=f"new{number}@rowanmere.example",
            name=f"New {number}",
            as_instructor=True,
            secret_digest=f"{number:064}",
            sent_at=NOW,
            good_until=NOW + timedelta(days=14),
        )
        for number in range(MANY)
    )
    Feed.objects.bulk_create(
        _copied(world.feed, secret_digest=f"5{number:063}") for number in range(MANY)
    )
    WaitingPlace.objects.bulk_create(
        WaitingPlace(meeting=world.meeting, student=one, place_kind=PlaceKind.PLAYER, joined_at=NOW)
        for one in students
    )
    OwedLesson.objects.bulk_create(_copied(world.owed, student=one) for one in students)


def _copied(row: Any, **changes: Any) -> Any:
    """A row like that one, not saved yet."""
    names = [field.attname for field in row._meta.concrete_fields if not field.primary_key]
    made = type(row)(**{name: getattr(row, name) for name in names})
    for name, value in changes.items():
        setattr(made, name, value)
    for field in row._meta.concrete_fields:
        if isinstance(field, UUIDField):
            setattr(made, field.attname, uuid4())
    return made


def test_a_page_of_any_list_takes_few_statements(world: World) -> None:
    """The first page and the last of 200, with and without a search. The rows of a page may take
    no statement each.
    """
    over = {}
    for cell in LISTS:
        path = MATRIX[cell].path(world)
        searches = [{}, {"q": "ash 4"}] if "q" in parameters(*cell) else [{}]
        for role, user in readers(world, cell).items():
            for query in searches:
                with CaptureQueriesContext(
                    connection,
                ) as seen:
                    reply = page_of(user, path, page_size=200, **query)
                assert reply.status == 200
                if len(seen) > STATEMENTS:
                    over[cell[1], role, str(query)] = len(seen)
    assert over == {}


def test_there_are_so_many(world: World) -> None:
    """The lists above are long."""
    ilse, noor = world.school.ilse.user, world.school.noor.user
    for user, path in (
        *((world.school.dag, path) for path in ("students/", "people/", "invitations/")),
        *((world.school.dag, path) for path in ("owed-lessons/", "guardianships/")),
        *((ilse, path) for path in ("extra-hours/", "days-away/", "load-allowances/")),
        *((noor, path) for path in ("bookings/", "feeds/")),
    ):
        reply = page_of(user, path, page_size=200)
        assert len(reply.json["results"]) == 200, path
        assert reply.json["next"], path
    assert Booking.objects.filter(standing=Standing.HELD).count() > MANY
