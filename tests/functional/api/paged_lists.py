"""Every list of the API, and a school in which each has a second page for somebody."""

from datetime import datetime, timedelta
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

from accounts.models import Student, User, Welcome
from bookings.domain.scopes import Scope
from bookings.domain.vocabulary import NoteState, PlaceKind, Standing
from bookings.models import Feed, ProposedTimes, WeeklyPlace
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import V1, Api, Reply, schema
from tests.functional.api.matrix import MATRIX, ROLES
from tests.functional.api.matrix_hooks import a_hook
from tests.functional.api.matrix_people import bounced
from tests.functional.api.program import Program
from tests.functional.api.school import FRIDAY, School
from tests.functional.api.world import World, make_world
from tests.school.covering import cover_question
from tests.school.owed import owed_from_before
from tests.school.statements import one_more_statement

Cell = tuple[str, str]


def answer_shape(cell: Cell) -> dict[str, Any]:
    """What a call answers when it succeeds, references resolved."""
    verb, pattern = cell
    path = schema()["paths"].get(V1 + pattern.replace("<id:pk>", "{id}"), {})
    content = path.get(verb.lower(), {}).get("responses", {}).get("200", {}).get("content", {})
    shape = content.get("application/json", {}).get("schema", {})
    if "$ref" in shape:
        shape = schema()["components"]["schemas"][shape["$ref"].rpartition("/")[2]]
    return dict(shape)


def is_paged(cell: Cell) -> bool:
    """Whether a call answers with one page of a list."""
    return {"next", "previous", "results"} <= set(answer_shape(cell).get("properties", {}))


LISTS = [cell for cell in MATRIX if cell[0] == "GET" and is_paged(cell)]


def readers(world: World, cell: Cell) -> dict[str, User]:
    """Who may read this list, by role."""
    people, cells = world.people(), zip(ROLES, MATRIX[cell].cells, strict=True)
    return {role: user for role, status in cells if status == 200 and (user := people[role])}


def page_of(user: User, path: str, **query: Any) -> Reply:
    """A page of a list whose address may have a query already."""
    address, _, asked = path.partition("?")
    return Api(user).get(f"{address}?{'&'.join(filter(None, [asked, urlencode(query)]))}")


def next_cursor(reply: Reply) -> str:
    """The cursor of the next page; empty where there is none, or no list for this person."""
    if reply.status != 200 or not reply.json["next"]:
        return ""
    return parse_qs(urlsplit(reply.json["next"]).query)["cursor"][0]


def make_full_world(school: School) -> World:
    """One of everything and one more, so that every list has a second page for somebody."""
    world = make_world(school)
    add_one_more(world)
    one_more_statement(world.statement)
    for number, is_paused in enumerate((False, True)):
        a_hook(world, is_paused=is_paused)
        bounced(f"gone{number}@rowanmere.example")
        Program(school.dag, Scope.READ_CALENDAR)
    return world


def add_one_more(world: World, since: int = 0) -> None:
    """Three more of most things, on the days from the one numbered `since`."""
    school = world.school
    for day, student in enumerate((school.marlo, school.noor, school.posy), since):
        _one_more_lesson(school, student, FRIDAY + timedelta(days=30 + day))
        _one_more_in_groups(school, world, student, day)
        _feed(school, day)
        place = WeeklyPlace.objects.get(pk=world.weekly.pk)
        place.pk, place.student, place.weekday = None, student, 2 + day % 3
        place.wall_at += since // 20
        place.save(force_insert=True)
        owed_from_before(place)
        first = ProposedTimes.objects.get(pk=world.proposed.proposed_id)
        first.pk, first.student = None, student
        first.save(force_insert=True)
    cast.make_assessment(school.noor, school.ilse, state=NoteState.RELEASED, released_at=NOW)
    _one_more_of_the_school(school, since)


def _one_more_of_the_school(school: School, number: int) -> None:
    """A version of the policy, an invitation and another child of Hedda's."""
    cast.make_policy(version=2 + number)
    cast.make_minor(f"Kit{number} Lindqvist-Reed", guardian=school.hedda)
    for role in ({"as_instructor": True}, {"guardian_of": school.posy}, {"student": school.posy}):
        Welcome.objects.create(
            email=f"ash{number}@marsh.example",
            name="Ash Marsh",
            secret_digest=f"{number}{next(iter(role)):x>60}",
            sent_at=NOW,
            good_until=NOW + timedelta(days=14),
            **role,
        )


def _feed(school: School, day: int) -> None:
    Feed.objects.create(
        owner=school.noor.user,
        label=f"Phone {day}",
        secret_digest=f"{day + 1:064}",
        revised_at=NOW,
        opened_at=NOW,
    )


def _one_more_lesson(school: School, student: Student, starts_at: datetime) -> None:
    """A lesson with a request to move, a note and a question to a substitute, and on its day each
    thing that an instructor keeps of their hours.
    """
    meeting = cast.make_meeting(school.consultation, school.ilse, starts_at)
    booking = cast.make_booking(meeting, student)
    booking.move_requests.create(
        asked_by=school.hedda, starts_at=starts_at + timedelta(hours=1), asked_at=NOW
    )
    cast.make_assessment(student, school.ilse, meeting=meeting)
    cover_question(booking, school.wren)
    on, zone = starts_at.date(), "Europe/Dublin"
    school.ilse.extra_hours.create(on=on, opens=0, closes=60, time_zone=zone)
    school.ilse.days_away.create(first_on=on, last_on=on, time_zone=zone)
    school.ilse.load_allowances.create(
        starts_at=starts_at, allowed_by=school.ilse.user, allowed_at=NOW
    )


def _one_more_in_groups(school: School, world: World, student: Student, day: int) -> None:
    """A place on two waiting lists and an offer."""
    joined_at = NOW + timedelta(minutes=day)
    for meeting in (world.meeting, world.uncertain):
        line = {"student": student, "place_kind": PlaceKind.PLAYER}
        meeting.waiting.get_or_create(**line, defaults={"joined_at": joined_at})
    cast.make_booking(
        school.class_on(starts_at=FRIDAY + timedelta(days=40 + day)),
        student,
        standing=Standing.OFFERED,
        answer_by=NOW + timedelta(hours=20),
    )
