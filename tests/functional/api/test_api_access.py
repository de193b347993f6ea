"""Who may do what: every route of the API, as every kind of person, in every verb; and what must never be in any answer."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction

from accounts.models import User
from bookings.api.urls import version_1
from bookings.domain.vocabulary import PlaceKind, Standing
from bookings.models import Assessment, Booking, DaysAway, ExtraHours, Feed, Meeting, WaitingPlace
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api, schema, snapshot
from tests.functional.api.school import FRIDAY, School

VERBS = ("GET", "POST", "PUT", "PATCH", "DELETE")
CANARY = "canary-9c1f"


@dataclass(frozen=True, slots=True)
class World:
    """One of everything, all of it Noor's and Ilse's; Posy waits, Marlo and Wren have nothing to do with it."""

    school: School
    booking: Booking
    meeting: Meeting
    place: Booking
    waiting: WaitingPlace
    offer: Booking
    extra: ExtraHours
    away: DaysAway
    draft: Assessment
    released: Assessment
    feed: Feed

    def people(self) -> dict[str, User | None]:
        return {
            "nobody": None,
            "owner": self.school.noor.user,
            "stranger": self.school.marlo.user,
            "guardian": self.school.hedda,
            "teacher": self.school.ilse.user,
            "colleague": self.school.wren.user,
            "admin": self.school.dag,
        }


@pytest.fixture
def world(school: School) -> World:
    one_on_one = cast.make_meeting(school.consultation, school.ilse, FRIDAY)
    meeting = school.class_on(places=2)
    other = school.class_on(places=1, starts_at=FRIDAY + timedelta(days=9))
    draft = cast.make_assessment(school.noor, school.ilse, obstacle="Draft")
    draft.private_remarks = f"{CANARY} draft"
    draft.save()
    return World(
        school=school,
        booking=cast.make_booking(one_on_one, school.noor),
        meeting=meeting,
        place=cast.make_booking(meeting, school.noor),
        waiting=meeting.waiting.create(student=school.noor, place_kind=PlaceKind.LISTENER, joined_at=NOW),
        offer=cast.make_booking(other, school.noor, standing=Standing.OFFERED, answer_by=NOW + timedelta(hours=20)),
        extra=school.ilse.extra_hours.create(on=FRIDAY.date(), opens=0, closes=60, time_zone="Europe/Dublin"),
        away=school.ilse.days_away.create(first_on=FRIDAY.date(), last_on=FRIDAY.date(), time_zone="Europe/Dublin"),
        draft=draft,
        released=school.released(school.noor, school.ilse, remarks=f"{CANARY} released"),
        feed=Feed.objects.create(owner=school.noor.user, label="Phone", secret_digest="0" * 64, revised_at=NOW, opened_at=NOW),
    )


ROLES = ("owner", "stranger", "guardian", "teacher", "colleague", "admin")
Cells = tuple[int, int, int, int, int, int]


@dataclass(frozen=True, slots=True)
class Route:
    """One verb at one address: its path, its body, and the status for each of ROLES. Nobody signed in is always 401."""

    path: Callable[[World], str]
    cells: Cells
    body: Callable[[World], Any] = lambda world: None


def _all(status: int) -> Cells:
    return (status,) * 6


def _note(world: World) -> dict[str, Any]:
    return {"student": world.school.noor.pk, "level": 4, "unit": 2}


def _class(world: World) -> dict[str, Any]:
    when = (FRIDAY + timedelta(days=20)).isoformat()
    return {"offering": world.school.group.pk, "instructor": world.school.ilse.pk, "title": "New", "places": 3, "starts_at": when}


WEEK = {"time_zone": "Europe/Dublin", "windows": []}
# owner, stranger, guardian, teacher, colleague, admin
MATRIX: dict[tuple[str, str], Route] = {
    ("POST", "tokens/"): Route(lambda w: "tokens/", _all(401), lambda w: {"email": "x@rowanmere.example", "password": "x"}),
    ("DELETE", "tokens/current/"): Route(lambda w: "tokens/current/", _all(404)),
    ("GET", "me/"): Route(lambda w: "me/", _all(200)),
    ("PATCH", "me/"): Route(lambda w: "me/", _all(200), lambda w: {"name": "Somebody Else"}),
    ("GET", "offerings/"): Route(lambda w: "offerings/", _all(200)),
    ("GET", "slots/"): Route(lambda w: f"slots/?offering={w.school.consultation.pk}", (200, 200, 200, 403, 403, 403)),
    ("GET", "bookings/"): Route(lambda w: "bookings/", _all(200)),
    ("POST", "bookings/"): Route(
        lambda w: "bookings/",
        (201, 404, 404, 404, 404, 201),
        lambda w: w.school.slot(student=w.school.noor.pk, starts_at="2027-03-03T15:00:00+00:00"),
    ),
    ("GET", "bookings/<id:pk>/"): Route(lambda w: f"bookings/{w.booking.pk}/", (200, 404, 404, 200, 404, 200)),
    ("GET", "bookings/<id:pk>/invitation.ics"): Route(lambda w: f"bookings/{w.booking.pk}/invitation.ics", (200, 404, 404, 200, 404, 200)),
    ("POST", "bookings/<id:pk>/cancel/"): Route(lambda w: f"bookings/{w.booking.pk}/cancel/", (200, 404, 404, 403, 404, 200)),
    ("POST", "bookings/<id:pk>/move/"): Route(
        lambda w: f"bookings/{w.booking.pk}/move/",
        (200, 404, 404, 403, 404, 200),
        lambda w: {"starts_at": "2027-03-03T15:00:00+00:00"},
    ),
    ("PATCH", "bookings/<id:pk>/intake/"): Route(
        lambda w: f"bookings/{w.booking.pk}/intake/", (200, 404, 404, 403, 404, 200), lambda w: {"pieces": "Study 4"}
    ),
    ("GET", "bookings/<id:pk>/brief/"): Route(lambda w: f"bookings/{w.booking.pk}/brief/", (404, 404, 404, 200, 404, 404)),
    ("GET", "meetings/"): Route(lambda w: "meetings/", _all(200)),
    ("POST", "meetings/"): Route(lambda w: "meetings/", (404, 404, 404, 201, 404, 201), _class),
    ("GET", "meetings/<id:pk>/"): Route(lambda w: f"meetings/{w.booking.meeting_id}/", (200, 404, 404, 200, 404, 200)),
    ("PATCH", "meetings/<id:pk>/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/", (404, 404, 404, 200, 404, 200), lambda w: {"title": "Another"}
    ),
    ("POST", "meetings/<id:pk>/call-off/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/call-off/", (404, 404, 404, 200, 404, 200), lambda w: {"why": "A broken string"}
    ),
    ("GET", "meetings/<id:pk>/roster/"): Route(lambda w: f"meetings/{w.meeting.pk}/roster/", (404, 404, 404, 200, 404, 200)),
    ("POST", "meetings/<id:pk>/roster/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/roster/",
        (404, 404, 404, 403, 404, 201),
        lambda w: {"student": w.school.marlo.pk, "reason": "By telephone"},
    ),
    ("DELETE", "meetings/<id:pk>/roster/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/roster/?booking={w.place.pk}&reason=Ill", (404, 404, 404, 403, 404, 204)
    ),
    ("PUT", "meetings/<id:pk>/register/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/register/",
        (404, 404, 404, 409, 404, 409),  # the register opens when the meeting starts
        lambda w: {"marks": [{"booking": w.place.pk, "attendance": "PRESENT"}]},
    ),
    ("GET", "meetings/<id:pk>/waiting-list/"): Route(lambda w: f"meetings/{w.meeting.pk}/waiting-list/", (404, 404, 404, 200, 404, 200)),
    ("POST", "meetings/<id:pk>/waiting-list/"): Route(
        lambda w: f"meetings/{w.offer.meeting_id}/waiting-list/",
        (409, 404, 404, 404, 404, 409),  # she has an offer there
        lambda w: {"student": w.school.noor.pk},
    ),
    ("DELETE", "meetings/<id:pk>/waiting-list/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/waiting-list/?student={w.school.noor.pk}&as=listener", (204, 404, 404, 404, 404, 204)
    ),
    ("GET", "offers/"): Route(lambda w: "offers/", _all(200)),
    ("POST", "offers/<id:pk>/accept/"): Route(lambda w: f"offers/{w.offer.pk}/accept/", (200, 404, 404, 403, 404, 200)),
    ("POST", "offers/<id:pk>/decline/"): Route(lambda w: f"offers/{w.offer.pk}/decline/", (200, 404, 404, 403, 404, 200)),
    ("GET", "teaching-hours/"): Route(lambda w: f"teaching-hours/?instructor={w.school.ilse.pk}", (404, 404, 404, 200, 404, 200)),
    ("PUT", "teaching-hours/"): Route(
        lambda w: f"teaching-hours/?instructor={w.school.ilse.pk}", (404, 404, 404, 200, 404, 200), lambda w: WEEK
    ),
    ("GET", "extra-hours/"): Route(lambda w: f"extra-hours/?instructor={w.school.ilse.pk}", (404, 404, 404, 200, 404, 200)),
    ("POST", "extra-hours/"): Route(
        lambda w: "extra-hours/",
        (404, 404, 404, 201, 404, 201),
        lambda w: {"instructor": w.school.ilse.pk, "on": "2027-03-20", "opens": "06:00", "closes": "07:00"},
    ),
    ("GET", "extra-hours/<id:pk>/"): Route(lambda w: f"extra-hours/{w.extra.pk}/", (404, 404, 404, 200, 404, 200)),
    ("DELETE", "extra-hours/<id:pk>/"): Route(lambda w: f"extra-hours/{w.extra.pk}/", (404, 404, 404, 204, 404, 204)),
    ("GET", "days-away/"): Route(lambda w: f"days-away/?instructor={w.school.ilse.pk}", (404, 404, 404, 200, 404, 200)),
    ("POST", "days-away/"): Route(
        lambda w: "days-away/",
        (404, 404, 404, 201, 404, 201),
        lambda w: {"instructor": w.school.ilse.pk, "first_on": "2027-03-20", "last_on": "2027-03-21"},
    ),
    ("GET", "days-away/<id:pk>/"): Route(lambda w: f"days-away/{w.away.pk}/", (404, 404, 404, 200, 404, 200)),
    ("DELETE", "days-away/<id:pk>/"): Route(lambda w: f"days-away/{w.away.pk}/", (404, 404, 404, 204, 404, 204)),
    ("GET", "assessments/"): Route(lambda w: "assessments/", (403, 403, 403, 200, 200, 403)),
    ("POST", "assessments/"): Route(lambda w: "assessments/", (403, 403, 403, 201, 201, 403), _note),
    ("GET", "assessments/<id:pk>/"): Route(lambda w: f"assessments/{w.draft.pk}/", (404, 404, 404, 200, 404, 404)),
    ("PATCH", "assessments/<id:pk>/"): Route(
        lambda w: f"assessments/{w.draft.pk}/", (404, 404, 404, 200, 404, 404), lambda w: {"goal": "Study 5"}
    ),
    ("POST", "assessments/<id:pk>/release/"): Route(lambda w: f"assessments/{w.draft.pk}/release/", (404, 404, 404, 200, 404, 404)),
    ("GET", "students/<id:pk>/assessments/latest/"): Route(
        lambda w: f"students/{w.school.noor.pk}/assessments/latest/?reason=A+question", (200, 404, 404, 200, 404, 200)
    ),
    ("GET", "feeds/"): Route(lambda w: "feeds/", _all(200)),
    ("POST", "feeds/"): Route(lambda w: "feeds/", _all(201), lambda w: {"label": "Tablet"}),
    ("GET", "feeds/<id:pk>/"): Route(lambda w: f"feeds/{w.feed.pk}/", (200, 404, 404, 404, 404, 404)),
    ("DELETE", "feeds/<id:pk>/"): Route(lambda w: f"feeds/{w.feed.pk}/", (204, 404, 404, 404, 404, 404)),
    ("POST", "feeds/<id:pk>/renew/"): Route(lambda w: f"feeds/{w.feed.pk}/renew/", (200, 404, 404, 404, 404, 404)),
}


def test_authorisation_matrix_lists_every_route() -> None:
    """A route that urls.py serves and the matrix does not list fails here, so none is added unjudged."""
    served = {(verb, str(route.pattern)) for route in version_1 for verb in VERBS if hasattr(route.callback.cls, verb.lower())}
    assert served == set(MATRIX)


@contextmanager
def undone() -> Iterator[None]:
    """Whatever is written inside is rolled back, so that each person finds the same world."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.mark.parametrize("cell", MATRIX, ids=" ".join)
def test_authorisation_matrix(world: World, cell: tuple[str, str]) -> None:
    """Each person gets the answer her role has at that address; where she is refused, nothing changes and nothing is queued."""
    route, before, seen = MATRIX[cell], snapshot(), {}
    for role, user in world.people().items():
        with undone():
            seen[role] = Api(user).ask(cell[0], route.path(world), route.body(world), match="*").status
            if seen[role] >= 400:
                assert snapshot() == before, role
    assert seen == {"nobody": 401, **dict(zip(ROLES, route.cells, strict=True))}


@pytest.mark.parametrize("role", ROLES)
def test_canary_in_private_remarks_reaches_their_author_only(world: World, role: str) -> None:
    """Each private remark holds a canary; no answer of any route to anybody but the author holds one, in any header or byte."""
    leaks = []
    for (verb, _), route in MATRIX.items():
        with undone():
            reply = Api(world.people()[role]).ask(verb, route.path(world), route.body(world), match="*")
        if CANARY.encode() in reply.body or CANARY in str(reply.headers):
            leaks.append(route.path(world).rstrip("0123456789/"))
    if role == "teacher":  # the author: on her own notes, and not on the brief
        assert leaks
        assert {path.partition("/")[0] for path in leaks} == {"assessments"}
    else:
        assert leaks == []


def test_canary_in_private_remarks_is_not_in_anothers_brief(world: World) -> None:
    """A colleague who meets the student reads the released note without its author's remarks."""
    meeting = cast.make_meeting(world.school.consultation, world.school.wren, FRIDAY + timedelta(hours=3))
    booking = cast.make_booking(meeting, world.school.noor)
    brief = Api(world.school.wren.user).get(f"bookings/{booking.pk}/brief/")
    assert brief.json["assessment"]["id"] == world.released.pk
    assert CANARY.encode() not in brief.body


def test_join_addresses_reach_those_booked_only(world: World) -> None:
    """The booked student, the instructor and an admin see where the meeting is held; another student, and one with an offer, do not."""
    address = world.school.ilse.room
    seen = {role: Api(user).get(f"meetings/{world.meeting.pk}/").json["join_address"] for role, user in world.people().items() if user}
    assert seen == {"owner": address, "stranger": "", "guardian": "", "teacher": address, "colleague": "", "admin": address}
    assert Api(world.school.noor.user).get(f"bookings/{world.offer.pk}/").json["join_address"] == ""


def test_other_families_are_not_named(world: World) -> None:
    """Nothing that a student or guardian can list names a student who is not hers."""
    for user in (world.school.marlo.user, world.school.hedda):
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
    "released_at": "2027-03-01T09:00:00+00:00",
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
    "answer_by": "2027-03-09T09:00:00+00:00",
}


@pytest.mark.parametrize("cell", [cell for cell in MATRIX if cell[0] in ("POST", "PUT", "PATCH") and cell[1] != "tokens/"], ids=" ".join)
def test_fields_that_a_call_does_not_know_are_refused(world: World, cell: tuple[str, str]) -> None:
    """Sending what only the tables know sets nothing: the call is refused and everything stays as it was."""
    route = MATRIX[cell]
    body = route.body(world)
    if body is None:
        return  # a call without a body reads none
    user = world.school.dag if route.cells[5] < 400 else world.school.ilse.user
    before = snapshot()
    for name, value in EXTRA.items():
        reply = Api(user).ask(cell[0], route.path(world), {**body, name: value}, match="*")
        assert (reply.status, reply.code) == (422, "invalid"), (name, reply.body)
    assert snapshot() == before


def test_the_schema_names_no_field_of_a_note_to_those_it_is_not_for() -> None:
    """Private remarks are in the author's shape alone."""
    holders = {name for name, shape in schema()["components"]["schemas"].items() if "private_remarks" in shape.get("properties", {})}
    assert {re.sub("Request$", "", name) for name in holders} <= {"Note", "NoteForm", "NoteChange", "PatchedNoteChange", "NoteShape"}
