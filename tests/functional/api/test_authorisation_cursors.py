"""A cursor belongs to the list it was given for: in another's hands it shows them their own rows,
or is refused.

OWASP API Security 2023, API1. The position in a cursor is not signed, so a foreign one is nothing a
server can trust.
"""

from datetime import datetime, timedelta
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest

from accounts.models import Student, User
from bookings.domain.vocabulary import NoteState, PlaceKind, Standing
from bookings.models import Feed, ProposedTimes, WeeklyPlace
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import V1, Api, Reply, schema
from tests.functional.api.matrix import MATRIX
from tests.functional.api.school import FRIDAY, School
from tests.functional.api.world import World, make_world

pytestmark = pytest.mark.both_in_ci


@pytest.fixture
def world(school: School) -> World:
    """One of everything and one more, so that every list has a second page for somebody."""
    world = make_world(school)
    for day, student in enumerate((school.marlo, school.noor, school.posy)):
        _one_more_lesson(school, student, FRIDAY + timedelta(days=30 + day))
        _one_more_in_groups(school, world, student, day)
        Feed.objects.create(
            owner=school.noor.user,
            label=f"Phone {day}",
            secret_digest=f"{day + 1}" * 64,
            revised_at=NOW,
            opened_at=NOW,
        )
        place = WeeklyPlace.objects.get(pk=world.weekly.pk)
        place.pk, place.student, place.weekday = None, student, 2 + day
        place.save(force_insert=True)
        first = ProposedTimes.objects.get(pk=world.proposed.proposed_id)
        first.pk, first.student = None, student
        first.save(force_insert=True)
    cast.make_assessment(school.noor, school.ilse, state=NoteState.RELEASED, released_at=NOW)
    return world


def _one_more_lesson(school: School, student: Student, starts_at: datetime) -> None:
    """A lesson with a request to move and a note, and on its day each thing that an instructor
    keeps of their hours.
    """
    meeting = cast.make_meeting(school.consultation, school.ilse, starts_at)
    booking = cast.make_booking(meeting, student)
    booking.move_requests.create(
        asked_by=school.hedda, starts_at=starts_at + timedelta(hours=1), asked_at=NOW
    )
    cast.make_assessment(student, school.ilse, state=NoteState.DRAFT)
    on, zone = starts_at.date(), "Europe/Dublin"
    school.ilse.extra_hours.create(on=on, opens=0, closes=60, time_zone=zone)
    school.ilse.days_away.create(first_on=on, last_on=on, time_zone=zone)
    school.ilse.load_allowances.create(
        starts_at=starts_at, allowed_by=school.ilse.user, allowed_at=NOW
    )


def _one_more_in_groups(school: School, world: World, student: Student, day: int) -> None:
    """A place on a waiting list and an offer."""
    world.meeting.waiting.get_or_create(
        student=student, place_kind=PlaceKind.PLAYER, joined_at=NOW + timedelta(minutes=day)
    )
    cast.make_booking(
        school.class_on(starts_at=FRIDAY + timedelta(days=40 + day)),
        student,
        standing=Standing.OFFERED,
        answer_by=NOW + timedelta(hours=20),
    )


def _shape(pattern: str) -> dict[str, Any]:
    """What a GET answers, references resolved."""
    path = schema()["paths"].get(V1 + pattern.replace("<id:pk>", "{id}"), {})
    content = path.get("get", {}).get("responses", {}).get("200", {}).get("content", {})
    shape = content.get("application/json", {}).get("schema", {})
    if "$ref" in shape:
        shape = schema()["components"]["schemas"][shape["$ref"].rpartition("/")[2]]
    return dict(shape)


def _is_paged(cell: tuple[str, str]) -> bool:
    verb, pattern = cell
    return verb == "GET" and {"next", "previous", "results"} <= set(
        _shape(pattern).get("properties", {})
    )


PAGED = [cell for cell in MATRIX if _is_paged(cell)]


def _page(user: User, path: str, **query: str) -> Reply:
    return Api(user).get(f"{path}?{urlencode(query)}")


def _cursor(reply: Reply) -> str:
    """The cursor of the next page; empty where there is none, or no list for this person."""
    if reply.status != 200 or not reply.json["next"]:
        return ""
    return parse_qs(urlsplit(reply.json["next"]).query)["cursor"][0]


def test_the_walk_finds_the_paged_lists() -> None:
    """The check cannot go blind: it knows the lists that are paged today, and any that come."""
    today = {"assessments/", "bookings/", "meetings/", "move-requests/", "offers/"}
    assert today | {"weekly-places/"} <= {pattern for _, pattern in PAGED}


@pytest.mark.parametrize("cell", PAGED, ids=" ".join)
def test_a_foreign_cursor_shows_no_row_of_another(world: World, cell: tuple[str, str]) -> None:
    """Everybody's cursor in another's hands: 422, or rows that the reader sees without it."""
    path = MATRIX[cell].path(world)
    people = {role: user for role, user in world.people().items() if user is not None}
    minted = {role: _cursor(_page(user, path, page_size="1")) for role, user in people.items()}
    assert any(minted.values()), "nobody has a second page, so nothing was tried"
    for reader, user in people.items():
        everything = _page(user, path, page_size="200")
        own = everything.json["results"] if everything.status == 200 else []
        for minter, cursor in minted.items():
            if not cursor or minter == reader:
                continue
            reply = _page(user, path, page_size="200", cursor=cursor)
            at = f"{minter}'s cursor with {reader}"
            if everything.status != 200:
                assert reply.status in (everything.status, 422), at
            elif reply.status != 200:
                assert reply.status == 422, at
            else:
                assert all(row in own for row in reply.json["results"]), at
