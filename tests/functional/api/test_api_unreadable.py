"""Bodies, texts and values that no rule needs to judge: what cannot be read is refused first."""

from typing import Any

import pytest

from tests.functional.api.client import Api, snapshot
from tests.functional.api.refusals import refused
from tests.functional.api.school import School

pytestmark = pytest.mark.sql

TEXTS = {
    "control-characters": [
        "bell \x07",
        "escape \x1b[31m",
        "line\u2028separator",
        "next\x85line",
        "half \ud83d",
        "null \x00",
    ],
    "too-long": ["x" * 501],
}


@pytest.mark.parametrize(
    ("code", "text"), [(code, text) for code, texts in TEXTS.items() for text in texts]
)
def test_text_is_clean_and_not_too_long(school: School, code: str, text: str) -> None:
    """Control characters, line separators, half characters and long text are refused with a pointer
    to the field; newlines are not.
    """
    before = snapshot()
    problem = refused(
        Api(school.noor.user).post("bookings/", school.slot(intake={"pieces": text})), code
    )
    assert problem["errors"][0]["pointer"] == "#/intake/pieces"
    assert snapshot() == before
    assert (
        Api(school.noor.user)
        .post("bookings/", school.slot(intake={"pieces": "Study 4\n\tand 5 🎵"}))
        .status
        == 201
    )


UNREADABLE = [
    ("malformed", {"raw": b'{"offering": 1'}),
    ("malformed", {"raw": b"\xff\xfe"}),
    ("malformed", {"raw": b'{"offering": NaN}'}),
    ("malformed", {"raw": b"[" * 50_000}),
    ("wrong-media-type", {"raw": b"offering=1", "media": "application/x-www-form-urlencoded"}),
    ("too-large", {"raw": b'{"a": "' + b"x" * 100_000 + b'"}'}),
    ("invalid", {"raw": b"[]"}),
    ("invalid", {"raw": b'"text"'}),
    ("invalid", {"raw": b"null"}),
    ("invalid", {"raw": b'{"\\ud800/~": 1}'}),
]


@pytest.mark.parametrize(("code", "sent"), UNREADABLE)
def test_a_body_that_cannot_be_read(school: School, code: str, sent: dict[str, Any]) -> None:
    """Broken JSON, another encoding, another media type, too large a body: each is told, none is a
    fault of the server.
    """
    refused(Api(school.noor.user).post("bookings/", **sent), code)


VALUES = [
    {"starts_at": 5},
    {"starts_at": "tomorrow"},
    {"starts_at": "9999-12-31T23:59:59Z"},
    {"starts_at": "2027-03-05T15:00:00+00:61"},
    {"starts_at": "2027-02-30T15:00:00Z"},
    {"starts_at": "2027-03-05T15:00:00+05:00", "time_zone": "Europe/Dublin"},
    {"instructor": "1"},
    {"instructor": True},
    {"instructor": 10**30},
    {"offering": None},
    {"intake": {"questions": ["a", "b", "c", "d"]}},
    {"intake": {"questions": "a"}},
    {"intake": []},
    {"meeting": 1},
    {"standing": "HELD"},
]


@pytest.mark.parametrize("change", VALUES, ids=str)
def test_values_that_can_never_be_right(school: School, change: dict[str, Any]) -> None:
    """Wrong types, impossible dates, unknown fields: 422 with a pointer to the field."""
    before = snapshot()
    problem = refused(Api(school.noor.user).post("bookings/", school.slot(**change)), "invalid")
    assert problem["errors"]
    assert snapshot() == before


def test_what_lies_outside_the_calls(school: School) -> None:
    """No address, no method, no token, a token that is not text: problems, too, whatever the
    method.
    """
    noor = Api(school.noor.user)
    for path in ("/api/v1/nothing/", "/api/v1/me", "/api/", f"bookings/{10**20}/"):
        for verb in ("GET", "POST", "DELETE"):
            refused(noor.ask(verb, path), "not-found")
    refused(noor.delete("me/"), "method-not-allowed")
    refused(Api().get("me/"), "not-signed-in")
    assert Api().get("me/").headers["WWW-Authenticate"] == "Bearer"
    for token in ("nobody", "n\xf6body", ""):
        refused(Api().get("me/", headers={"Authorization": f"Bearer {token}"}), "not-signed-in")
    assert Api().get("/api/problems/taken/").json == {
        "code": "taken",
        "title": "That time is taken",
        "status": 409,
    }
    assert Api().get("/api/problems/nothing/").status == 404


def test_too_many_requests_say_when_to_go_on(school: School, settings: Any) -> None:
    """Wrong passwords are counted by the caller's address."""
    settings.SIGN_IN_FAILURES = 2
    replies = [
        Api().post("tokens/", {"email": "nobody@rowanmere.example", "password": "guess"})
        for _ in range(3)
    ]
    assert [reply.code for reply in replies] == [
        "not-signed-in",
        "not-signed-in",
        "too-many-requests",
    ]
    assert int(replies[-1].headers["Retry-After"]) > 0
