"""Service tokens at the API: what each scope opens, what none does, and when one stops."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.cache import cache
from rest_framework.throttling import SimpleRateThrottle

from accounts.models import User
from bookings import clock
from bookings.api.urls import version_1
from bookings.domain.scopes import PEOPLE, Scope
from bookings.models import AuditRow, Intake, OutboxMessage, ServiceToken
from bookings.operations.accounts import change_admin
from bookings.operations.closing import close_account
from bookings.operations.service_tokens import revoke_service_token
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api, schema, snapshot, undone
from tests.functional.api.matrix import MATRIX
from tests.functional.api.matrix_programs import OPEN
from tests.functional.api.program import Program
from tests.functional.api.school import School
from tests.functional.api.world import BAR, CANARY, PLANNED, World, make_world

pytestmark = pytest.mark.one_database

VERBS = ("GET", "POST", "PUT", "PATCH", "DELETE")
OPENED_BY = {cell: scope for scope, cells in OPEN.items() for cell in cells}
HEALTH = "wrists-ache-3f81"


@pytest.fixture
def world(school: School) -> World:
    return make_world(school)


def test_every_operation_says_which_scope_it_needs() -> None:
    """One that says nothing is closed to every service token, and fails here. OWASP API1 and API5
    (2023).
    """
    unsaid = [
        (verb, str(route.pattern))
        for route in version_1
        for verb in VERBS
        if hasattr(route.callback.cls, verb.lower())
        and getattr(route.callback.cls, verb.lower()).declared.scope not in (*Scope, PEOPLE)
    ]
    assert unsaid == []


def test_each_scope_opens_what_its_column_lists() -> None:
    """The declarations beside the column, so that neither changes alone."""
    declared = {
        (verb, str(route.pattern)): getattr(route.callback.cls, verb.lower()).declared.scope
        for route in version_1
        for verb in VERBS
        if hasattr(route.callback.cls, verb.lower())
    }
    assert {cell: scope for cell, scope in declared.items() if scope != PEOPLE} == OPENED_BY


@pytest.mark.parametrize("cell", MATRIX, ids=" ".join)
def test_authorisation_matrix_of_a_service_token(world: World, cell: tuple[str, str]) -> None:
    """With every scope it gets what an admin gets where its column says so; without the one scope,
    and anywhere else, 403 and nothing changes.
    """
    route, scope = MATRIX[cell], OPENED_BY.get(cell)
    admin = world.school.dag
    whole = Program(admin, *Scope)
    lacking = Program(admin, *(other for other in Scope if other is not scope))
    path, body = route.path(world), route.body(world)
    if cell[1] == "tokens/":
        return  # it signs a person in, and looks at no token: test_a_service_token_is_no_device
    ServiceToken.objects.update(last_used_on=NOW.date())  # the day of a use is kept, refused or not
    before = snapshot()
    with undone():
        reply = whole.ask(cell[0], path, body, match="*")
    if scope is None:
        assert (reply.status, reply.code) == (403, "not-allowed")
    else:
        assert reply.status == route.cells[5], reply.body
    with undone():
        reply = lacking.ask(cell[0], path, body, match="*")
        assert (reply.status, reply.code) == (403, "not-allowed")
        assert scope is None or scope.value in reply.json["detail"]
        assert snapshot() == before


def test_no_answer_holds_a_note_or_what_hurts_even_where_the_maker_may_read_it(
    world: World,
) -> None:
    """Its maker here is the author of the notes, and the instructor of the lessons, as well."""
    maker = world.school.ilse.user
    maker.is_staff = maker.is_superuser = True
    maker.save()
    intake = Intake(booking=world.booking, obstacle=HEALTH, written_at=NOW)
    intake.hurts = HEALTH
    Intake.objects.filter(booking=world.booking).delete()
    intake.save()
    world.released.obstacle = CANARY
    world.released.save()
    assert HEALTH in str(Api(maker).get(f"bookings/{world.booking.pk}/").json)
    assert CANARY in str(Api(maker).get("students/").json)
    program = Program(maker, *Scope)
    for (verb, _), route in MATRIX.items():
        cache.clear()
        with undone():
            reply = program.ask(verb, route.path(world), route.body(world), match="*")
        for canary in (CANARY, PLANNED, BAR, HEALTH):
            assert canary.encode() not in reply.body, route.path(world)


def test_a_program_gets_no_answer_that_was_kept_for_somebody_else(world: World) -> None:
    """Its maker cancelled under the same Idempotency-Key, and read what hurts; nor does it get
    another program's answer. Under its own key it gets its own bytes again.
    """
    maker = world.school.ilse.user
    maker.is_staff = maker.is_superuser = True
    maker.save()
    intake = Intake(booking=world.booking, obstacle=HEALTH, written_at=NOW)
    Intake.objects.filter(booking=world.booking).delete()
    intake.save()
    path = f"bookings/{world.booking.pk}/cancel/"
    assert HEALTH in str(Api(maker).post(path, key="1", match="*").json)
    one, other = Program(maker, *Scope), Program(maker, *Scope)
    first = one.post(path, key="1", match="*")
    assert (first.status, first.code) == (409, "already-ended")
    assert one.post(path, key="1", match="*").body == first.body
    assert other.post(path, {}, key="1", match="*").code != "key-reused"


def test_the_audit_names_the_token(world: World) -> None:
    """And the admin with whose rights it acted."""
    program = Program(world.school.dag, Scope.WRITE_BOOKINGS)
    reply = program.post(f"bookings/{world.booking.pk}/cancel/", match="*")
    assert reply.status == 200
    row = AuditRow.objects.filter(verb="cancelled").latest("pk")
    assert (row.actor, row.token) == (world.school.dag, program.token)
    assert row.actor_name == "Reception desk"
    assert OutboxMessage.objects.filter(recipient=world.owner).exists()


def _asks(program: Program) -> int:
    return program.get("offerings/").status


def test_a_token_stops_when_it_expires_is_revoked_or_its_maker_is_no_admin(
    school: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    """401, as for a token that never was. ASVS 5.0 8.3.2: a change of rights holds at once."""
    make_world(school)
    other = cast.make_admin("Ida Verrall")
    revoked, expired, orphan = (
        Program(school.dag, Scope.READ_CALENDAR),
        Program(school.dag, Scope.READ_CALENDAR, days=1),
        Program(other, Scope.READ_CALENDAR),
    )
    assert [_asks(one) for one in (revoked, expired, orphan)] == [200] * 3
    revoke_service_token(actor=other, token=revoked.token, now=NOW)
    assert _asks(revoked) == 401
    other.is_staff = other.is_superuser = False
    other.save()
    assert _asks(orphan) == 401
    other.is_staff = other.is_superuser = True
    other.is_active = False
    other.save()
    assert _asks(orphan) == 401
    monkeypatch.setattr(clock, "now", lambda: NOW + timedelta(days=1))
    assert _asks(expired) == 401


@pytest.mark.parametrize(
    "secret", ["levare_", "levare_x", "levare_" + "é" * 5, "levare_" + "A" * 5000]
)
def test_an_unknown_token_is_refused_like_any_other(school: School, secret: str) -> None:
    """Empty, short, endless or not ASCII: 401, and the same sentence as for a token of a person."""
    sent = {"Authorization": f"Bearer {secret}".encode().decode("latin-1")}
    reply = Api().get("offerings/", headers=sent)
    assert (reply.status, reply.code) == (401, "not-signed-in")


def test_its_last_use_is_kept_as_a_day(school: School, monkeypatch: pytest.MonkeyPatch) -> None:
    """One write a day at most, so that a reading costs no write."""
    make_world(school)
    program = Program(school.dag, Scope.READ_CALENDAR)
    for day in (0, 1):
        monkeypatch.setattr(clock, "now", lambda later=day: NOW + timedelta(days=later))
        _asks(program)
        program.token.refresh_from_db()
        assert program.token.last_used_on == (NOW + timedelta(days=day)).date()


def test_each_token_is_throttled_on_its_own(
    school: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nor does it use up what its maker may ask. OWASP API4 (2023)."""
    make_world(school)
    monkeypatch.setattr(
        SimpleRateThrottle,
        "THROTTLE_RATES",
        {"user": "2/min", "anon": "9/min", "busy-calendars": "9/min"},
    )
    cache.clear()
    one, other = Program(school.dag, *Scope), Program(school.dag, *Scope)
    assert [_asks(one) for _ in range(3)] == [200, 200, 429]
    assert _asks(other) == 200
    assert Api(school.dag).get("offerings/").status == 200


def test_a_service_token_is_no_device_of_its_makers(school: School) -> None:
    """Whoever holds one gains no attempts at the maker's password with it."""
    program = Program(school.dag, *Scope)
    sent = {"email": school.dag.email, "password": "wrong"}
    seen = [program.post("tokens/", sent).status for _ in range(30)]
    assert seen[0] == 401 and seen[-1] == 429


def test_the_schema_says_of_every_call_what_a_service_token_needs() -> None:
    """The scope by name, or that no service token may use the call."""
    for path, verbs in schema()["paths"].items():
        for verb, call in verbs.items():
            if "security" in call and call["security"] != [{}]:
                said: Any = call.get("description", "")
                assert "service token" in said.lower(), (verb, path)


@pytest.mark.parametrize("how", ["role", "account"])
def test_a_role_that_is_lost_and_given_again_brings_no_token_back(school: School, how: str) -> None:
    """Whoever stops being an admin leaves no way in behind, and none that sleeps."""
    other = cast.make_admin("Ida Verrall")
    program = Program(other, Scope.READ_CALENDAR)
    if how == "role":
        change_admin(actor=school.dag, user=other, is_admin=False, now=NOW)
    else:
        close_account(actor=school.dag, user=other, why="Left the school.", now=NOW)
    User.objects.filter(pk=other.pk).update(is_staff=True, is_superuser=True, is_active=True)
    assert _asks(program) == 401
    assert AuditRow.objects.filter(verb="revoked service token", actor=school.dag).count() == 1
