"""Who may do what: every route of the API, as every kind of person, in every verb; and what must
never be in any answer.
"""

import re
from datetime import timedelta

import pytest

from bookings.api.urls import version_1
from bookings.models import KeptAnswer
from tests import cast
from tests.functional.api.client import Api, schema, snapshot, undone
from tests.functional.api.matrix import MATRIX, NO_STUDENT, ONCE_GUARDIANS, ROLES
from tests.functional.api.school import FRIDAY
from tests.functional.api.world import BAR, CANARY, PLANNED, World

pytestmark = pytest.mark.one_database

VERBS = ("GET", "POST", "PUT", "PATCH", "DELETE")


def test_authorisation_matrix_lists_every_route() -> None:
    """A route that urls.py serves and the matrix does not list fails here, so none is added
    unjudged.
    """
    served = {
        (verb, str(route.pattern))
        for route in version_1
        for verb in VERBS
        if hasattr(route.callback.cls, verb.lower())
    }
    assert served == set(MATRIX)


@pytest.mark.parametrize("cell", MATRIX, ids=" ".join)
def test_authorisation_matrix(world: World, cell: tuple[str, str]) -> None:
    """Each person gets the answer their role has at that address; where they are refused, nothing
    changes and nothing is queued.
    OWASP ASVS 5.0.0, V8.2.1.
    """
    route, seen = MATRIX[cell], {}
    path = route.path(world)
    before = snapshot()
    for role, user in world.people().items():
        with undone():
            seen[role] = Api(user).ask(cell[0], path, route.body(world), match="*").status
            if seen[role] >= 400:
                assert snapshot() == before, role
    ended = dict.fromkeys(ONCE_GUARDIANS, NO_STUDENT.get(cell, route.cells[1]))
    assert seen == {"nobody": 401, **dict(zip(ROLES, route.cells, strict=True)), **ended}


@pytest.mark.parametrize("role", [*ROLES, *ONCE_GUARDIANS])
def test_canary_in_private_remarks_reaches_their_author_only(world: World, role: str) -> None:
    """Each private remark holds a canary; no answer of any route to anybody but the author holds
    one, in any header or byte.
    OWASP ASVS 5.0.0, V8.2.3.
    """
    leaks = []
    for (verb, _), route in MATRIX.items():
        with undone():
            reply = Api(world.people()[role]).ask(
                verb, route.path(world), route.body(world), match="*"
            )
        if CANARY.encode() in reply.body or CANARY in str(reply.headers):
            leaks.append(route.path(world).rstrip("0123456789/"))
    if role == "teacher":  # the author: on their own notes, and not on the brief
        assert leaks
        assert {path.partition("/")[0] for path in leaks} == {"assessments"}
    else:
        assert leaks == []


@pytest.mark.parametrize("role", ["stranger", "guardian", "foreign instructor", *ONCE_GUARDIANS])
def test_canary_in_a_practice_plan_reaches_no_stranger(world: World, role: str) -> None:
    """Whoever may not read the note finds nothing of its practice plan in any answer."""
    for (verb, _), route in MATRIX.items():
        with undone():
            reply = Api(world.people()[role]).ask(
                verb, route.path(world), route.body(world), match="*"
            )
        assert PLANNED.encode() not in reply.body, route.path(world)


@pytest.mark.parametrize("role", [*ROLES, *ONCE_GUARDIANS])
def test_canary_in_the_reason_of_a_bar_reaches_admins_only(world: World, role: str) -> None:
    """Admins read it with the guardianship; nobody else in any answer, and no answer stores it."""
    told = []
    for (verb, _), route in MATRIX.items():
        with undone():
            body = route.body(world)
            reply = Api(world.people()[role]).ask(
                verb, route.path(world), body, match="*", key="one" if verb != "GET" else None
            )
            kept = KeptAnswer.objects.filter(body__contains=BAR)
            assert not kept.exists(), route.path(world)
        if BAR.encode() in reply.body:
            told.append(route.path(world).partition("/")[0])
    assert set(told) == ({"guardianships"} if role == "admin" else set())


def test_canary_in_private_remarks_is_not_in_anothers_brief(world: World) -> None:
    """A colleague who meets the student reads the released note without its author's remarks."""
    meeting = cast.make_meeting(
        world.school.consultation, world.school.wren, FRIDAY + timedelta(hours=3)
    )
    booking = cast.make_booking(meeting, world.school.noor, assessment=world.released)
    brief = Api(world.school.wren.user).get(f"bookings/{booking.pk}/brief/")
    assert brief.json["assessment"]["id"] == world.released.pk
    assert CANARY.encode() not in brief.body


def test_join_addresses_reach_those_booked_only(world: World) -> None:
    """The booked student, the instructor and an admin see where the meeting is held; another
    student, and one with an offer, do not.
    """
    address = world.school.ilse.room
    seen = {
        role: Api(user).get(f"meetings/{world.meeting.pk}/").json["join_address"]
        for role, user in world.people().items()
        if user
    }
    assert seen == {
        "owner": address,
        "stranger": "",
        "guardian": "",
        "teacher": address,
        "foreign instructor": "",
        "admin": address,
        **dict.fromkeys(ONCE_GUARDIANS, ""),
    }
    assert Api(world.school.noor.user).get(f"bookings/{world.offer.pk}/").json["join_address"] == ""


def test_other_families_are_not_named(world: World) -> None:
    """Nothing that a student or guardian can list names a student who is not theirs."""
    for user in (
        world.school.marlo.user,
        world.school.hedda,
        world.orsola,
        world.removed,
        world.barred,
    ):
        for path in ("bookings/", "meetings/", "offers/", "offerings/", "me/"):
            assert b"Ashgrove" not in Api(user).get(path).body


EXTRA = {
    "id": 1,
    "pk": 1,
    "standing": "HELD",
    "version": 7,
    "is_staff": True,
    "is_superuser": True,
    "taken": 0,
    "state": "released",
    "released_at": "2027-03-01T09:00:00Z",
    "policy": 1,
    "booked_by": 1,
    "ended_at": None,
    "is_flagged": True,
    "secret_digest": "0" * 64,
    "uid": "0",
    "sequence": 9,
    "sealed_remarks": "",
    "author": 1,
    "owner": 1,
    "answer_by": "2027-03-09T09:00:00Z",
}


@pytest.mark.parametrize(
    "cell",
    [cell for cell in MATRIX if cell[0] in ("POST", "PUT", "PATCH") and cell[1] != "tokens/"],
    ids=" ".join,
)
def test_fields_that_a_call_does_not_know_are_refused(world: World, cell: tuple[str, str]) -> None:
    """Sending what only the tables know sets nothing: the call is refused and everything stays as
    it was.
    OWASP ASVS 5.0.0, V15.3.3.
    """
    route = MATRIX[cell]
    body, path = route.body(world), route.path(world)
    if body is None:
        return  # a call without a body reads none
    user = world.school.dag if route.cells[5] < 400 else world.school.ilse.user
    before = snapshot()
    for name, value in EXTRA.items():
        reply = Api(user).ask(cell[0], path, {**body, name: value}, match="*")
        assert (reply.status, reply.code) == (422, "invalid"), (name, reply.body)
    assert snapshot() == before


def test_the_schema_names_no_field_of_a_note_to_those_it_is_not_for() -> None:
    """Private remarks are in the author's shape alone. OWASP ASVS 5.0.0, V15.3.1."""
    holders = {
        name
        for name, shape in schema()["components"]["schemas"].items()
        if "private_remarks" in shape.get("properties", {})
    }
    assert {re.sub("Request$", "", name) for name in holders} <= {
        "Note",
        "NoteForm",
        "NoteChange",
        "PatchedNoteChange",
        "NoteOutput",
    }
