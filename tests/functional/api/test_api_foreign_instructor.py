"""An instructor who has nothing to do with a student learns nothing from an id.

Every address that takes a student's or a note's id answers them as it answers an id that is
nobody's: OWASP API Security 2023, API1 (broken object level authorisation).
"""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from bookings.domain.vocabulary import Ended, Standing
from tests import cast
from tests.cast import NOW, at
from tests.functional.api.client import V1, Api, Reply, schema, snapshot, undone
from tests.functional.api.matrix import MATRIX
from tests.functional.api.world import World

pytestmark = pytest.mark.one_database

NOBODY = 987_654
"""An id that no row has."""


def _takes_a_student(verb: str, pattern: str) -> bool:
    path = schema()["paths"].get(V1 + pattern.replace("<id:pk>", "{id}"), {})
    call = path.get(verb.lower(), {})
    asked = {parameter["name"] for parameter in call.get("parameters", [])}
    for media in call.get("requestBody", {}).get("content", {}).values():
        asked |= _properties(media["schema"])
    return "student" in asked


def _properties(shape: dict[str, Any]) -> set[str]:
    if "$ref" in shape:
        shape = schema()["components"]["schemas"][shape["$ref"].rpartition("/")[2]]
    found = set(shape.get("properties", {}))
    for part in (*shape.get("oneOf", []), *shape.get("anyOf", []), *shape.get("allOf", [])):
        found |= _properties(part)
    return found


BY_PATH = [cell for cell in MATRIX if cell[1].startswith(("students/<", "assessments/<"))]
OF_ADMINS = {
    ("POST", "students/<id:pk>/leave/"),
    ("POST", "students/<id:pk>/return/"),
    ("POST", "students/<id:pk>/privacy/approve/"),
    ("PATCH", "students/<id:pk>/"),
}
BY_STUDENT = [cell for cell in MATRIX if _takes_a_student(*cell)]


def _told(reply: Reply) -> tuple[int, bytes]:
    """What tells an answer from another: its status and its bytes, apart from the address asked."""
    problem = reply.json
    instance = str(problem.pop("instance", ""))
    return reply.status, reply.body.replace(instance.encode(), b"")


def test_the_walk_finds_what_it_is_to_judge() -> None:
    """The check cannot go blind: it knows the calls that name a student today, and any more that
    come.
    """
    assert {verb for verb, path in BY_PATH if path == "assessments/<id:pk>/"} == {"GET", "PATCH"}
    named = {("POST", "assessments/"), ("POST", "bookings/"), ("GET", "slots/")}
    assert named <= set(BY_STUDENT)


@pytest.mark.parametrize("cell", BY_PATH, ids=" ".join)
def test_foreign_ids_in_an_address_are_nobodys(world: World, cell: tuple[str, str]) -> None:
    """A note or a student of others answers byte for byte as one that does not exist; what is for
    admins alone is closed before anybody is looked for.
    """
    route, wren = MATRIX[cell], Api(world.school.wren.user)
    path = route.path(world)
    ours = path.split("/")[1]
    before = snapshot()
    real = wren.ask(cell[0], path, route.body(world), match="*")
    made_up = wren.ask(
        cell[0], path.replace(f"/{ours}/", f"/{NOBODY}/", 1), route.body(world), match="*"
    )
    assert real.status == (403 if cell in OF_ADMINS else 404)
    assert _told(real) == _told(made_up)
    assert snapshot() == before


@pytest.mark.parametrize("cell", BY_STUDENT, ids=" ".join)
def test_foreign_students_in_a_body_or_query_are_nobodys(
    world: World, cell: tuple[str, str]
) -> None:
    """Naming another's student anywhere answers byte for byte as naming nobody."""
    route, wren = MATRIX[cell], Api(world.school.wren.user)
    route.path(world)  # what a route makes is made before anything is counted
    before = snapshot()

    def ask(student: int) -> Reply:
        body, (path, _, query) = route.body(world), route.path(world).partition("?")
        if isinstance(body, dict):
            body = {**body, "student": student}
        else:
            kept = [part for part in query.split("&") if part and not part.startswith("student=")]
            path = f"{path}?{'&'.join([*kept, f'student={student}'])}"
        with undone():
            return wren.ask(cell[0], path, body, match="*")

    real, made_up = ask(world.learner.pk), ask(NOBODY)
    assert real.status in (200, 403, 404, 422)  # a list that is filtered is empty
    assert _told(real) == _told(made_up)
    assert snapshot() == before


def test_a_stranger_s_name_is_read_by_no_try(world: World) -> None:
    """All ids tried in turn give a foreign instructor no first name, and write no note."""
    wren = Api(world.school.wren.user)
    for student in (world.school.noor, world.school.marlo, world.school.posy):
        reply = wren.post("assessments/", {"student": student.pk, "level": 4, "unit": 2})
        assert (reply.status, reply.code) == (404, "not-found")
        assert student.first_name.encode() not in reply.body
    assert world.school.wren.assessments.count() == 0


Make = Callable[[World], None]


def _held_ahead(world: World) -> None:
    meeting = cast.make_meeting(world.school.group, world.school.wren, NOW + timedelta(days=9))
    cast.make_booking(meeting, world.school.marlo)


def _taught(days: int) -> Make:
    def make(world: World) -> None:
        ends_at = NOW - timedelta(days=days)
        starts_at = ends_at - timedelta(minutes=world.school.consultation.minutes)
        meeting = cast.make_meeting(world.school.consultation, world.school.wren, starts_at)
        cast.make_booking(meeting, world.school.marlo)

    return make


def _ended(world: World) -> None:
    meeting = cast.make_meeting(
        world.school.consultation, world.school.wren, at("2027-03-09T15:00Z")
    )
    cast.make_booking(
        meeting,
        world.school.marlo,
        standing=Standing.ENDED,
        ended_at=NOW,
        ended_why=Ended.CANCELLED_IN_TIME,
    )


def _offered(world: World) -> None:
    meeting = cast.make_meeting(world.school.group, world.school.wren, NOW + timedelta(days=9))
    cast.make_booking(
        meeting,
        world.school.marlo,
        standing=Standing.OFFERED,
        answer_by=NOW + timedelta(hours=20),
    )


@pytest.mark.parametrize(
    ("make", "status"),
    [
        (_held_ahead, 201),
        (_taught(13), 201),
        (_taught(14), 404),
        (_ended, 404),
        (_offered, 404),
    ],
    ids=["held ahead", "taught 13 days ago", "taught 14 days ago", "cancelled", "only offered"],
)
def test_a_note_needs_a_meeting_of_the_two(world: World, make: Make, status: int) -> None:
    """A held or taught booking of that student with that instructor opens the note, until 14 days
    after it.
    """
    make(world)
    body = {"student": world.school.marlo.pk, "level": 4, "unit": 2}
    assert Api(world.school.wren.user).post("assessments/", body).status == status


@pytest.mark.parametrize("state", ["draft", "released"])
def test_a_note_closes_for_its_author_two_weeks_after_the_last_meeting(
    world: World, state: str
) -> None:
    """They go on reading it; a change, a new version and a release come too late."""
    note = cast.make_assessment(
        world.school.marlo,
        world.school.wren,
        state=state,
        released_at=NOW if state == "released" else None,
    )
    wren, path = Api(world.school.wren.user), f"assessments/{note.pk}/"
    assert wren.get(path).status == 200
    assert wren.patch(path, {"goal": "Study 5"}, match="*").status == 404
    assert wren.post(f"{path}release/", match="*").status == 404
    _taught(13)(world)
    assert wren.patch(path, {"goal": "Study 5"}, match="*").status == 200


def test_an_admin_who_teaches_writes_of_any_student(world: World) -> None:
    """The admin's role opens the note of a student they have not met."""
    wren = world.school.wren.user
    wren.is_staff = wren.is_superuser = True
    wren.save()
    body = {"student": world.school.marlo.pk, "level": 4, "unit": 2}
    assert Api(wren).post("assessments/", body).status == 201
    assert Api(wren).post("assessments/", {**body, "student": NOBODY}).status == 404
