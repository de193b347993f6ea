"""A client that a general generator makes from the schema, without a workaround, does the main job
over HTTP.

Source: openapi-python-client (PyPI), which knows OpenAPI and nothing of this project.
"""

import importlib
import importlib.util
import json
import subprocess
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from types import ModuleType
from typing import Any

import pytest
from django.test import Client as Browser

from accounts.models import User
from tests import services
from tests.cast import PASSWORD
from tests.functional.api.school import FRIDAY, School, make_school

pytestmark = [pytest.mark.heavy, pytest.mark.django_db(transaction=True)]

GENERATOR = "openapi_python_client"
PACKAGE = "general_client"


@pytest.fixture(scope="module")
def generated(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ModuleType]:
    """The client, made into a folder of its own and imported from there."""
    if importlib.util.find_spec(GENERATOR) is None:
        reason = "openapi-python-client of requirements/test.txt is not installed"
        (pytest.fail if services.required() else pytest.skip)(reason)
    folder = tmp_path_factory.mktemp("generated")
    described = Browser().get("/api/schema/", headers={"Accept": "application/json"})
    (folder / "schema.json").write_bytes(described.content)
    # What the generator would tidy afterwards is style; a warning would be a call that it left out.
    # It knows files as bytes, by one media type.
    settings = {
        "post_hooks": [],
        "content_type_overrides": {"application/zip": "application/octet-stream"},
    }
    (folder / "settings.json").write_text(json.dumps(settings))
    asked = ["--path", "schema.json", "--config", "settings.json", "--output-path", PACKAGE]
    made = subprocess.run(
        [
            sys.executable,
            "-m",
            GENERATOR,
            "generate",
            *asked,
            "--meta",
            "none",
            "--fail-on-warning",
        ],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stdout + made.stderr
    sys.path.insert(0, str(folder))
    try:
        yield importlib.import_module(PACKAGE)
    finally:
        sys.path.remove(str(folder))
        for name in [name for name in sys.modules if name.partition(".")[0] == PACKAGE]:
            del sys.modules[name]


class Desk:
    """Somebody at the API by way of the generated client."""

    def __init__(self, generated: ModuleType, base_url: str, user: User | None) -> None:
        assert user is not None
        self._models = importlib.import_module(f"{PACKAGE}.models")
        guest = generated.Client(base_url=base_url)
        form = self.form("SignInRequest", email=user.email, password=PASSWORD)
        token = self._answer(guest, "tokens", "sign_in", body=form).parsed.token
        self._client = generated.AuthenticatedClient(base_url=base_url, token=token)

    def form(self, name: str, **values: Any) -> Any:
        """A request's object."""
        return getattr(self._models, name)(**values)

    def word(self, name: str, value: str) -> Any:
        """One word of a closed set."""
        return getattr(self._models, name)(value)

    def does(self, tag: str, call: str, *ids: int, status: int = 200, **asked: Any) -> Any:
        """The answer to one call, which has this status and one of the shapes that the schema gives
        it.
        """
        answer = self._answer(self._client, tag, call, *ids, **asked)
        assert answer.status_code == status, answer.content
        return answer

    @staticmethod
    def _answer(client: Any, tag: str, call: str, *ids: int, **asked: Any) -> Any:
        module = importlib.import_module(f"{PACKAGE}.api.{tag}.{call}")
        answer = module.sync_detailed(*ids, client=client, **asked)
        assert answer.parsed is not None, answer.content
        return answer


@pytest.fixture
def school(transactional_db: None) -> School:
    school = make_school()
    for user in (school.noor.user, school.marlo.user, school.dag):
        assert user is not None
        user.set_password(PASSWORD)
        user.save()
    return school


def test_a_generated_client_books_moves_and_cancels(
    generated: ModuleType, school: School, live_server: Any, clock: list[datetime]
) -> None:
    """Offerings, slots, booking, reading, moving and cancelling; a refusal comes with its near
    starts.
    """
    noor = Desk(generated, live_server.url, school.noor.user)
    marlo = Desk(generated, live_server.url, school.marlo.user)
    offerings = noor.does("offerings", "offerings").parsed.results
    consultation = next(one for one in offerings if one.kind == "consultation")
    found = noor.does(
        "slots", "slots", offering=consultation.id, from_=FRIDAY, to=FRIDAY + timedelta(days=1)
    ).parsed.results
    first, other = found[0], found[4]
    intake = noor.form("IntakeFormRequest", questions=["Why does my thumb buzz?"])
    wish = {"offering": consultation.id, "instructor": first.instructor.id}
    form = noor.form("SlotFormRequest", **wish, starts_at=first.starts_at, intake=intake)
    booking = noor.does("bookings", "book", status=201, body=form, idempotency_key='"one"').parsed
    assert (booking.starts_at, booking.standing) == (first.starts_at, "HELD")
    again = marlo.form("SlotFormRequest", **wish, starts_at=first.starts_at)
    refused = marlo.does("bookings", "book", status=409, body=again).parsed
    assert (refused.code, len(refused.near)) == ("taken", 3)
    read = noor.does("bookings", "booking", booking.id)
    assert read.parsed.intake.questions == ["Why does my thumb buzz?"]
    to = noor.form("StartFormRequest", starts_at=other.starts_at)
    tag = read.headers["ETag"]
    moved = noor.does("bookings", "move_booking", booking.id, body=to, if_match=tag)
    assert moved.parsed.starts_at == other.starts_at
    noor.does("bookings", "cancel_booking", booking.id, status=412, if_match=tag)
    tag = moved.headers["ETag"]
    ended = noor.does("bookings", "cancel_booking", booking.id, if_match=tag).parsed
    assert (ended.standing, ended.ended_reason) == ("ENDED", "cancelled-in-time")


def test_a_generated_client_takes_a_place_and_waits_for_one(
    generated: ModuleType, school: School, live_server: Any, clock: list[datetime]
) -> None:
    """A place in a group meeting, the waiting list, and the offer that comes of it."""
    noor = Desk(generated, live_server.url, school.noor.user)
    marlo = Desk(generated, live_server.url, school.marlo.user)
    meeting = school.class_on(places=1)
    player = noor.word("PlaceKind", "player")
    place = noor.form("PlaceFormRequest", meeting=meeting.pk, as_=player)
    held = noor.does("bookings", "book", status=201, body=place)
    assert (held.parsed.meeting, held.parsed.as_) == (meeting.pk, "player")
    wait = marlo.form("JoinFormRequest")
    waiting = marlo.does("meetings", "join_waiting_list", meeting.pk, status=201, body=wait)
    assert waiting.parsed.rank == 1
    tag = held.headers["ETag"]
    noor.does("bookings", "cancel_booking", held.parsed.id, if_match=tag)
    (offer,) = marlo.does("offers", "offers").parsed.results
    taken = marlo.does("offers", "accept_offer", offer.id).parsed
    assert (taken.id, taken.standing) == (offer.id, "HELD")
