"""What the product writes about itself: lines that can be followed from request to task, and that
hold nothing private.
"""

import io
import json
import logging
import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from smtplib import SMTPDataError
from typing import Any

import pytest
import structlog
from django.core.mail.backends.base import BaseEmailBackend
from django.test import Client
from knox.models import AuthToken

from accounts.models import Instructor
from bookings import clock, outbox
from bookings.models import Assessment, Booking, Offering, OutboxMessage
from bookings.notices.rows import row
from bookings.operations.subscriptions import open_feed
from config.logs import HideSecrets, LineFormatter
from tests import cast

pytestmark = [pytest.mark.django_db]

CANARY = "canary-7b1f-sings"

Lines = Callable[[], list[dict[str, Any]]]


@pytest.fixture
def lines() -> Iterator[Lines]:
    """Every line from INFO up, as the product's own handler would write it."""
    written = io.StringIO()
    handler = logging.StreamHandler(written)
    handler.setFormatter(LineFormatter())
    handler.addFilter(HideSecrets())
    root = logging.getLogger()
    before = root.level
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    try:
        yield lambda: [json.loads(line) for line in written.getvalue().splitlines()]
    finally:
        root.removeHandler(handler)
        root.setLevel(before)


@pytest.mark.parametrize(
    "came", ["5f2c8a10-77aa-4c0e-9a1b-3f7e0d6f1c22", "proxy-3.1764073801_000042"]
)
def test_a_safe_request_id_is_taken_and_answered(lines: Lines, came: str) -> None:
    """What the proxy in front calls the request stands in its lines and in the answer."""
    answer = Client().get("/health/live/", headers={"X-Request-ID": came})
    assert answer["X-Request-ID"] == came
    assert {line["request_id"] for line in lines()} == {came}
    assert [line["event"] for line in lines()] == ["request_started", "request_finished"]


@pytest.mark.parametrize(
    "came",
    [
        None,
        "",
        "short",
        "x" * 65,
        'a"},{"event":"forged',
        "line\tbreak-in-it",
        "räume-und-zeiten",
        "-leading-dash",
    ],
)
def test_any_other_request_id_is_replaced(lines: Lines, came: str | None) -> None:
    """None, too short, too long or with characters that could forge a line: it gets one of ours, 32
    hex digits.
    """
    answer = Client().get("/health/live/", headers={} if came is None else {"X-Request-ID": came})
    assert re.fullmatch("[0-9a-f]{32}", answer["X-Request-ID"])
    assert {line["request_id"] for line in lines()} == {answer["X-Request-ID"]}
    assert not came or came not in json.dumps(lines())


def test_a_feeds_secret_is_not_written(lines: Lines) -> None:
    """The secret of a subscription, whether it opens a feed or not, is no part of a line."""
    secret = open_feed(actor=cast.make_user(), label="Phone", now=clock.now())[1]
    for tried in (secret, CANARY):
        Client().get(f"/calendar/{tried}.ics")
    told = json.dumps(lines())
    assert "/calendar/[hidden]" in told
    assert secret not in told and CANARY not in told


def test_the_secret_of_a_new_address_is_not_written(lines: Lines) -> None:
    """Whoever reads a log confirms nothing."""
    Client().get(f"/new-address/{CANARY}/")
    told = json.dumps(lines())
    assert "/new-address/[hidden]" in told
    assert CANARY not in told


@pytest.mark.parametrize(
    "path",
    [
        "/api/v1/students/1/assessments/latest/?a=1&reason={}&b=2",
        "/office/accounts/student/?q={}",
        "/meetings/1/?find={}",
        "/api/v1/offerings/?token={}",
        "/api/v1/offerings/?access_token={}&page_size=1",
    ],
)
def test_what_is_private_in_an_address_is_not_written(lines: Lines, path: str) -> None:
    """A reason and a token, which are refused there, and a name that somebody searches for: the
    line has the address without them.
    """
    Client().get(path.format(CANARY + "+Ashgrove%20Lind"))
    told = json.dumps(lines())
    assert path.format("[hidden]") in told
    assert CANARY not in told and "Ashgrove" not in told


@pytest.mark.parametrize("begins", ["levare_", "whsec_"])
def test_a_secret_of_a_program_is_written_nowhere(lines: Lines, begins: str) -> None:
    """Wherever in an address a program puts its service token, or the secret of a webhook."""
    secret = begins + "Canary-4f2e_" * 4
    Client().get(f"/api/v1/{secret}/?with={secret}")
    told = json.dumps(lines())
    assert f"{begins}[hidden]" in told
    assert "Canary-4f2e" not in told


def test_a_password_is_not_written(lines: Lines) -> None:
    """Neither a right nor a wrong password, at the page and at the API; nor the token that comes of
    it.

    Source: OWASP ASVS 5.0.0, V16.2.5.
    """
    user = cast.make_user(password=CANARY)
    for password in (CANARY, f"{CANARY} misspelt"):
        Client().post("/accounts/login/", {"login": user.email, "password": password})
        token = (
            Client()
            .post(
                "/api/v1/tokens/", {"email": user.email, "password": password}, "application/json"
            )
            .json()
            .get("token", CANARY)
        )
        assert token not in json.dumps(lines())
    assert len(lines()) >= 8
    assert CANARY not in json.dumps(lines())


def wrote(author: Instructor, **text: Any) -> Any:
    student = cast.make_student()
    offering = Offering.objects.first() or cast.make_offering()
    days = Booking.objects.count() + 1
    cast.taught(author, student, offering, clock.now() - timedelta(days=days))
    token = AuthToken.objects.create(user=author.user)[1]
    sent = {"student": student.pk, "level": 3, "unit": 1, "heard_on": "2026-11-20", **text}
    return Client(raise_request_exception=False).post(
        "/api/v1/assessments/",
        sent,
        "application/json",
        headers={"Authorization": f"Bearer {token}"},
    )


def test_a_notes_text_is_not_written(lines: Lines) -> None:
    """What an instructor writes of a student, kept or refused, stays out."""
    author = cast.make_instructor()
    assert wrote(author, strengths=CANARY, private_remarks=CANARY).status_code == 201
    assert wrote(author, strengths=CANARY + "\0").status_code == 422
    assert CANARY not in json.dumps(lines())


def test_a_fault_says_where_and_not_what_was_written(
    lines: Lines, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The database quotes the row that it refuses, and a ValueError its value: the trace has kinds
    and places, never their words.
    """

    def break_it(*, student_id: int, author: Any, text: Any, now: Any, **_: Any) -> None:
        try:
            raise ValueError(text.strengths)
        except ValueError:
            Assessment.objects.create(
                student_id=student_id,
                author=author,
                level=44,
                unit=1,
                heard_on=now.date(),
                strengths=CANARY,
                written_at=now,
            )

    monkeypatch.setattr("bookings.api.notes.write_assessment", break_it)
    assert wrote(cast.make_instructor(), strengths=CANARY).status_code == 500
    told = [line for line in lines() if "exception" in line]
    assert CANARY not in json.dumps(lines())
    assert (
        "in break_it" in told[0]["exception"]
        and "ValueError" in told[0]["exception"]
        and "IntegrityError" in told[0]["exception"]
    )
    assert "assessment_level" in told[0]["exception"]


class Refusing(BaseEmailBackend):
    """A mail server that quotes the letter back, as many do."""

    def send_messages(self, mails: Any) -> int:
        raise SMTPDataError(554, mails[0].message().as_bytes())


def test_a_letter_is_not_written(lines: Lines, settings: Any) -> None:
    """A mail server's refusal may quote the letter: its kind is logged, its words are not, nor to
    whom it was to go.
    """
    settings.EMAIL_BACKEND = f"{__name__}.Refusing"
    now, reader = clock.now(), cast.make_user()
    row(reader, outbox.MessageKind.TOLD, "x", "x", title=CANARY, body=f"{CANARY}\n", now=now).save()
    outbox.drain(clock.now)
    assert OutboxMessage.objects.get().attempts == 1
    assert [(line["event"], line["error"]) for line in lines()] == [
        ("a message was given up", "SMTP 554")
    ]
    assert CANARY not in json.dumps(lines()) and reader.email not in json.dumps(lines())


def test_a_trouble_of_the_system_keeps_its_words(lines: Lines) -> None:
    """A full disk or a server that is away names itself: only what people wrote is left out."""
    try:
        raise OSError(28, "No space left on device")
    except OSError:
        structlog.get_logger("x").exception("it failed")
    assert lines()[0]["exception"].endswith("OSError: [Errno 28] No space left on device")
