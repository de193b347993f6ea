"""An answer by email that may be anybody's changes nothing: the family is asked, once for each
state of the meeting.

Source: RFC 8601 section 5 (whose results count), RFC 6047 section 3 (REPLYs can be forged).
"""

from typing import Any

import pytest

from bookings.door import write
from bookings.models import IgnoredMail, LastAnswer, MoveRequest, OutboxMessage
from bookings.operations.booking import move_slot
from tests.cast import NOW, at
from tests.integration.mailed import again, answer, booking, ignored, receive

__all__ = ["booking"]
pytestmark = pytest.mark.django_db
NO_PASS = {
    "no result at all": "mx.rowanmere.example; none",
    "another server's word": "mx.evil.example; dmarc=pass header.from=rowanmere.example",
    "a pass for another domain": "mx.rowanmere.example; dkim=pass header.d=evil.example",
    "the envelope's domain only": "mx.rowanmere.example; spf=pass smtp.mailfrom=calendar.example",
    "a forged pass below the server's own": (
        "mx.rowanmere.example; dmarc=fail header.from=rowanmere.example\r\n"
        "Authentication-Results: mx.rowanmere.example; dmarc=pass header.from=rowanmere.example"
    ),
}
STRANGER = {
    "sender": "mallory@evil.example",
    "results": "mx.rowanmere.example; dmarc=pass header.from=evil.example",
}


def unchanged(place: Any) -> bool:
    """Held, in a confirmed meeting, with the answer as it was, and no answer kept."""
    now = again(place)
    kept = LastAnswer.objects.exists() or MoveRequest.objects.exists()
    told = (now.standing, now.partstat, now.meeting.status, now.starts_at, kept)
    return told == ("HELD", "ACCEPTED", "CONFIRMED", at("2027-03-09T15:00Z"), False)


def questions() -> list[OutboxMessage]:
    return list(OutboxMessage.objects.filter(title__startswith="Do you want to").order_by("pk"))


@pytest.mark.parametrize("why", NO_PASS)
@pytest.mark.parametrize("method", ["REPLY", "COUNTER"])
def test_a_forged_answer_changes_nothing_and_the_family_is_asked_once(
    booking: Any, monkeypatch: pytest.MonkeyPatch, method: str, why: str
) -> None:
    """Three forged answers with the family's address as From: one email, with a link, and not a
    word to anybody else.
    """
    before = OutboxMessage.objects.count()
    for minute in range(3):
        bent = {"partstat": "DECLINED", "stamp": f"20270301T09{minute:02}00Z"}
        mail = answer(booking, method, results=NO_PASS[why], starts="20270310T160000Z", **bent)
        receive(mail, monkeypatch)
    (question,) = questions()
    assert unchanged(booking)
    assert (question.recipient, question.calendar) == (booking.student.user, "")
    assert "nothing has changed" in question.body
    assert "/my-lessons/" in question.body
    assert (OutboxMessage.objects.count(), ignored()) == (before + 1, {"unproven": 3})


@pytest.mark.parametrize("attendee", ["mallory@evil.example", None])
def test_somebody_to_whom_an_invitation_was_forwarded_cancels_nothing(
    booking: Any, monkeypatch: pytest.MonkeyPatch, attendee: str | None
) -> None:
    """Their own mail server vouches for them; the mailbox is the family's all the same."""
    who = attendee or booking.student.user.email
    receive(answer(booking, partstat="DECLINED", attendee=who, **STRANGER), monkeypatch)
    assert unchanged(booking)
    assert [question.to_address for question in questions()] == [booking.student.user.email]
    assert ignored() == {"unknown-sender": 1}


@pytest.mark.parametrize(("method", "partstat"), [("REPLY", "TENTATIVE"), ("REFRESH", "")])
def test_what_cancels_nothing_is_ignored_without_a_question(
    booking: Any, monkeypatch: pytest.MonkeyPatch, method: str, partstat: str
) -> None:
    """A forged ACCEPTED, TENTATIVE or REFRESH is counted, and nobody is written to."""
    before = OutboxMessage.objects.count()
    mail = answer(booking, method, partstat=partstat, results=NO_PASS["no result at all"])
    receive(mail, monkeypatch)
    assert unchanged(booking)
    assert (OutboxMessage.objects.count(), ignored()) == (before, {"unproven": 1})


def test_a_stranger_silences_nobody(booking: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Fifteen forged answers with stamps of tomorrow: the family's own is heard afterwards."""
    for minute in range(15):
        bent = {"partstat": "DECLINED", "stamp": f"20270302T09{minute:02}00Z"}
        receive(answer(booking, results="mx.rowanmere.example; none", **bent), monkeypatch)
    receive(answer(booking, partstat="DECLINED"), monkeypatch)
    assert again(booking).ended_why == "cancelled-in-time"


def test_a_new_state_asks_anew(booking: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """After a move the SEQUENCE is another; an answer to the old one is dropped, one to the new one
    asks.
    """
    noor, forged = booking.student.user, {"partstat": "DECLINED", "results": "x; none"}
    receive(answer(booking, **forged), monkeypatch)
    moved = lambda: move_slot(  # noqa: E731
        actor=noor, booking=again(booking), starts_at=at("2027-03-10T15:00Z"), now=NOW
    )
    write(moved, now=NOW)
    for sequence in (0, 1, 1):
        receive(answer(booking, sequence=sequence, **forged), monkeypatch)
    assert len(questions()) == 2
    assert dict(IgnoredMail.objects.values_list("reason", "count")) == {"unproven": 3, "old": 1}


def test_without_a_trusted_server_no_answer_acts(
    booking: Any, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    """REPLY_AUTHSERV_ID is empty until somebody sets it: a school is safe before that."""
    settings.REPLY_AUTHSERV_ID = ""
    receive(answer(booking, partstat="DECLINED", results="; dmarc=pass"), monkeypatch)
    assert unchanged(booking)
    assert len(questions()) == 1
