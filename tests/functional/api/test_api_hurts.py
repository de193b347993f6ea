"""What a family answers to "Does anything hurt?": health data, read by the family and by the
instructor of that meeting alone."""

from typing import Any

import pytest
from django.test import Client

from bookings.models import AuditRow, Booking, Intake, KeptAnswer, OutboxMessage
from tests import cast
from tests.functional.api.client import Api, schema, undone
from tests.functional.api.matrix import MATRIX, ONCE_GUARDIANS, ROLES
from tests.functional.api.school import FRIDAY, School
from tests.functional.api.world import World, make_world

pytestmark = pytest.mark.one_database

HURTS = "canary-5e0d the left wrist"
ALLOWED = {"owner": {"GET bookings/intake"}, "teacher": {"GET bookings/brief"}}


@pytest.fixture
def world(school: School) -> World:
    """Both the lesson and the place in the group have an answer."""
    world = make_world(school)
    for booking in (world.booking, world.place):
        says(booking)
    return world


def says(booking: Booking, hurts: str = HURTS) -> Intake:
    intake = Intake(booking=booking, questions=["Why?"], written_at=cast.NOW)
    intake.hurts = hurts
    intake.save()
    return intake


@pytest.mark.parametrize("role", [*ROLES, *ONCE_GUARDIANS])
def test_canary_of_what_hurts_in_every_call(world: World, role: str) -> None:
    """Every verb at every address as every role: it is in two answers alone."""
    leaks = set()
    for (verb, _), route in MATRIX.items():
        path = route.path(world)
        with undone():
            reply = Api(world.people()[role]).ask(verb, path, route.body(world), match="*")
        if HURTS.encode() in reply.body or HURTS in str(reply.headers):
            noun, _, rest = path.strip("/").partition("/")
            leaks.add(f"{verb} {noun}/{rest.rpartition('/')[2]}")
    assert leaks == ALLOWED.get(role, set())


def test_the_family_writes_and_reads_it_and_no_answer_is_kept(school: School) -> None:
    """Sent with a booking and with a change, under an Idempotency-Key: nothing stored opens."""
    noor = Api(school.noor.user)
    made = noor.post("bookings/", school.slot(intake={"hurts": HURTS}), key="one")
    path = f"bookings/{made.json['id']}/"
    later = {"hurts": f"{HURTS}, less", "practised_minutes": 210}
    changed = noor.ask("PATCH", f"{path}intake/", later, match=made.etag, key="two")
    assert changed.json["intake"]["practised_minutes"] == 210
    own = noor.get(f"{path}intake/")
    assert own.json["hurts"] == later["hurts"]
    assert "ETag" not in own.headers
    assert Api(school.ilse.user).get(f"{path}brief/").json["hurts"] == later["hurts"]
    for reply in (made, changed, noor.get(path)):
        assert HURTS.encode() not in reply.body
    for stored in (KeptAnswer, AuditRow, OutboxMessage):
        assert stored.objects.exists()
        assert HURTS not in str(list(stored.objects.values())), stored
    assert HURTS.encode() not in bytes(Intake.objects.get().sealed_hurts)


def test_an_admin_neither_reads_nor_writes_it(world: World) -> None:
    """Whoever acts by their role alone finds it empty, may not send it, and leaves it as it is."""
    path = f"bookings/{world.booking.pk}/intake/"
    dag, noor = Api(world.school.dag), Api(world.owner)
    assert dag.get(path).json["hurts"] == ""
    refused = dag.ask("PATCH", path, {"hurts": HURTS}, match="*")
    assert (refused.status, refused.code) == (403, "not-allowed")
    assert dag.ask("PATCH", path, {"pieces": "Study 4"}, match="*").status == 200
    assert noor.get(path).json["hurts"] == HURTS


def test_the_version_does_not_tell_whether_anything_hurts(world: World) -> None:
    """A family's answer raises the version of a booking alike, whatever it says: an admin who
    watches the tag learns that they saved, and no more."""
    path, noor, dag = f"bookings/{world.booking.pk}/", Api(world.owner), Api(world.school.dag)
    tags = [dag.etag(path)]
    for hurts in ("", "", HURTS, HURTS):
        noor.ask("PATCH", f"{path}intake/", {"hurts": hurts}, match="*")
        tags.append(dag.etag(path))
    assert len(set(tags)) == len(tags)


def test_no_email_feed_or_log_holds_it(
    world: World, client: Client, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture
) -> None:
    """After a lesson has moved and its reminders are written: every email, the family's feed and
    the instructor's, and all that was logged."""
    caplog.set_level("DEBUG")
    path, noor = f"bookings/{world.booking.pk}/", Api(world.owner)
    noor.ask("PATCH", f"{path}intake/", {"hurts": f"{HURTS}, again"}, match="*")
    noor.ask("POST", f"{path}move/", {"starts_at": "2027-03-03T15:00:00Z"}, match="*")
    emails = str(list(OutboxMessage.objects.values()))
    assert "Noor" in emails
    feeds = [
        client.get(Api(user).post("feeds/", {"name": "Phone"}).json["address"]).content.decode()
        for user in (world.owner, world.school.ilse.user)
    ]
    assert all("BEGIN:VEVENT" in feed for feed in feeds)
    seen = capfd.readouterr()
    for text in (emails, *feeds, caplog.text, seen.out, seen.err):
        assert "canary-5e0d" not in text


@pytest.mark.parametrize(
    ("sent", "pointer"),
    [
        ({"hurts": "x" * 10_000}, "#/hurts"),
        ({"hurts": f"{HURTS}\x00"}, "#/hurts"),
        ({"hurts": None}, "#/hurts"),
        ({"practised_minutes": -1}, "#/practised_minutes"),
        ({"practised_minutes": 10_081}, "#/practised_minutes"),
        ({"practised_minutes": "210"}, "#/practised_minutes"),
    ],
)
def test_what_cannot_be_kept_is_refused_and_not_repeated(
    world: World, sent: dict[str, Any], pointer: str
) -> None:
    """The refusal points at the field and never quotes it."""
    reply = Api(world.owner).ask(
        "PATCH", f"bookings/{world.booking.pk}/intake/", sent, match="*", key="bad"
    )
    assert (reply.status, reply.json["errors"][0]["pointer"]) == (422, pointer)
    assert b"canary" not in reply.body
    assert b"xxx" not in reply.body


def test_emoji_and_right_to_left_text_are_kept(world: World) -> None:
    """The text comes back as it was written."""
    path, told = f"bookings/{world.booking.pk}/intake/", "פרק כף היד 🎵"
    noor = Api(world.owner)
    assert noor.ask("PATCH", path, {"hurts": told}, match="*").status == 200
    assert noor.get(path).json["hurts"] == told


def test_a_group_is_not_sent_questions(world: World) -> None:
    """Pieces and recordings go to a masterclass; questions are for a one-on-one."""
    path = f"bookings/{world.place.pk}/intake/"
    noor = Api(world.owner)
    refused = noor.ask("PATCH", path, {"questions": ["Why?"]}, match="*")
    assert (refused.status, refused.code) == (422, "invalid")
    brings = {"questions": [], "pieces": "Study 4", "recordings": ["https://r.example/1"]}
    assert noor.ask("PATCH", path, brings, match="*").status == 200
    brief = Api(world.school.ilse.user).get(f"bookings/{world.place.pk}/brief/").json
    assert brief["intake"]["pieces"] == "Study 4"


def test_the_schema_names_it_where_it_may_be_sent_or_read() -> None:
    """In the brief, in the family's own answer, and in what the family sends."""
    holders = {
        name
        for name, shape in schema()["components"]["schemas"].items()
        if "hurts" in shape.get("properties", {})
    }
    told = {name.removesuffix("Request").removesuffix("Output") for name in holders}
    assert told - {"PatchedIntakeForm"} == {"Brief", "OwnIntake", "IntakeForm"}


def test_a_lesson_that_moves_to_another_instructor_takes_it_along(world: World) -> None:
    """The new instructor reads it, and the old one no longer finds the brief."""
    moved = Api(world.school.dag).ask(
        "POST",
        f"bookings/{world.booking.pk}/move/",
        {"starts_at": f"{FRIDAY:%Y-%m-%dT17:00}:00Z", "instructor": world.school.wren.pk},
        match="*",
    )
    assert moved.status == 200, moved.body
    brief = f"bookings/{world.booking.pk}/brief/"
    assert Api(world.school.wren.user).get(brief).json["hurts"] == HURTS
    assert Api(world.school.ilse.user).get(brief).status == 404
