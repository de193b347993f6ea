"""Tasks under a broker that repeats, reorders and loses: what falls due happens once, whoever asks
and however often.
"""

import ast
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core import mail
from django.db import connection
from django.test.utils import CaptureQueriesContext

import bookings
from bookings import notices, outbox, tasks
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Standing
from bookings.door import write
from bookings.models import Booking, OutboxMessage
from bookings.operations import places
from bookings.operations.invitations import come_in, invite
from tests import cast
from tests.cast import NOW, at, make_user
from tests.letters import keep, written
from tests.school.groups import Class
from tests.threads import together


@pytest.fixture
def hands(monkeypatch: pytest.MonkeyPatch) -> Callable[[datetime], None]:
    """Sets the clock of the tasks."""
    return lambda instant: monkeypatch.setattr("bookings.clock.now", lambda: instant)


def lapsing() -> tuple[Class, Booking]:
    """A studio class whose freed place is on offer to the first of two who wait."""
    group = Class()
    held = group.full()
    group.do(places.leave_place, actor=group.admin, booking=held[0])
    return group, Booking.objects.get(standing=Standing.OFFERED)


@pytest.mark.django_db
@pytest.mark.parametrize("order", ["doubled", "reversed", "lost"])
def test_tasks_in_any_order_and_number_have_one_effect(
    order: str, hands: Callable[[datetime], None], mailoutbox: list[Any]
) -> None:
    """Sent twice, the second first, or the first never run: one lapse, one next offer, each message
    once.
    """
    _, offer = lapsing()
    hands(NOW)
    tasks.drain_outbox()
    assert offer.answer_by is not None
    hands(offer.answer_by)
    if order != "lost":
        tasks.enqueue_due()
        tasks.enqueue_due()
    for _ in range(2):
        if order == "reversed":
            tasks.drain_outbox()
            tasks.enqueue_due()
        else:
            tasks.enqueue_due()
            tasks.drain_outbox()
    tasks.drain_outbox()
    assert Booking.objects.get(standing=Standing.OFFERED).pk != offer.pk
    assert Booking.objects.filter(ended_why="lapsed").count() == 1
    told = [row.message_id for row in _sent()]
    assert len(told) == len(set(told)) == len(mailoutbox)


def _sent() -> list[OutboxMessage]:
    return list(OutboxMessage.objects.filter(state="sent"))


@pytest.mark.django_db(transaction=True)
def test_tasks_at_one_moment_have_one_effect(
    settings: Any, tmp_path: Path, hands: Callable[[datetime], None]
) -> None:
    """Two workers are given the same two tasks at once: the offer lapses once, passes on once, and
    every mail leaves once.
    """
    settings.EMAIL_BACKEND, settings.EMAIL_FILE_PATH = (
        "django.core.mail.backends.filebased.EmailBackend",
        str(tmp_path),
    )
    group, offer = lapsing()
    lesson = cast.make_meeting(cast.make_offering(), group.ilse, at("2027-03-01T15:00Z"))
    cast.make_booking(lesson, group.students[0])
    assert offer.answer_by is not None
    hands(offer.answer_by)  # 13:00 in Dublin on the day after the lesson

    def work() -> None:
        tasks.enqueue_due()
        tasks.drain_outbox()

    assert together(work, work, work) == []
    tasks.drain_outbox()
    assert Booking.objects.filter(ended_why="lapsed").count() == 1
    assert Booking.objects.get(standing=Standing.OFFERED).student == group.students[3]
    assert OutboxMessage.objects.filter(kind="follow-up").count() == 1
    ids = [message["Message-ID"] for message in written(tmp_path)]
    assert len(ids) == len(set(ids)) == len(_sent())


@pytest.mark.django_db(transaction=True)
def test_two_who_come_in_by_one_letter_make_one_account() -> None:
    """The second is told that the letter is no longer open; a fault would be a 500."""
    admin = cast.make_admin()
    write(
        lambda: invite(
            actor=admin,
            email="bram@rowanmere.example",
            name="Bram Tolliver",
            as_instructor=True,
            now=NOW,
        ),
        now=NOW,
    )
    body = OutboxMessage.objects.get(kind="welcome").body
    secret = body.partition("/welcome/")[2].partition("/")[0]

    def come() -> None:
        said = {"name": "Bram", "time_zone": "Australia/Lord_Howe", "password": cast.PASSWORD}
        write(lambda: come_in(secret=secret, now=NOW, **said), now=NOW)

    raised = together(come, come)
    assert [type(error) for error in raised] == [Refused]
    assert isinstance(raised[0], Refused)
    assert raised[0].code == "not-found"
    assert type(admin).objects.filter(email="bram@rowanmere.example").count() == 1


@pytest.mark.django_db
def test_one_address_twice_is_a_refusal(django_user_model: Any) -> None:
    """Two letters to one address at one moment: what the database's own guard says is translated,
    on both databases.
    """
    make_user("Bram Tolliver", email="bram@rowanmere.example")
    with pytest.raises(Refused) as caught:
        write(
            lambda: django_user_model.objects.create_user("BRAM@rowanmere.example", name="Bram"),
            now=NOW,
        )
    assert caught.value.code == "already-done"


@pytest.mark.django_db
def test_claiming_is_one_statement_or_skips_what_is_locked(django_assert_num_queries: Any) -> None:
    """SQLite chooses and leases in one UPDATE ...

    RETURNING; PostgreSQL locks with SKIP LOCKED. One more reads the rows.
    """
    messages = [
        notices.rows.row(
            make_user(f"R {n}"), outbox.MessageKind.TOLD, "x", "x", title="x", body="x\n", now=NOW
        )
        for n in range(3)
    ]
    keep(messages, NOW)
    with CaptureQueriesContext(
        connection,
    ) as ran:
        claimed = outbox.claim(NOW, 2)
    assert [(message.attempts, message.leased_until) for message in claimed] == [
        (1, NOW + timedelta(minutes=2))
    ] * 2
    statements = [query["sql"] for query in ran if "outboxmessage" in query["sql"]]
    if connection.vendor == "sqlite":
        assert statements[0].startswith("UPDATE")
        assert "RETURNING" in statements[0]
        assert len(statements) == 2
    else:
        assert "SKIP LOCKED" in statements[0]
    assert [message.attempts for message in outbox.claim(NOW, 9)] == [1]
    assert outbox.claim(NOW, 9) == []


@pytest.mark.django_db
def test_the_console_shows_a_whole_message(
    settings: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    """In development, where an email may be printed instead of sent, it is printed whole."""
    settings.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
    zoe = make_user("Zoë Ashgrove", email="zoe@rowanmere.example")
    keep(
        [
            notices.rows.row(
                zoe, outbox.MessageKind.TOLD, "x", "x", title="Étude", body="Words.\n", now=NOW
            )
        ],
        NOW,
    )
    assert outbox.drain(lambda: NOW) == 1
    shown = capsys.readouterr().out
    assert "Message-ID: <told.x.x." in shown
    assert "Words." in shown
    assert mail.get_connection().__class__.__module__.endswith("console")


def test_no_task_waits_in_a_queue_for_its_hour() -> None:
    """Redis delivers again what is not done within its visibility timeout, so time lives in the
    tables: no `eta`, no `countdown`.
    """
    for path in Path(bookings.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call):
                assert not {word.arg for word in node.keywords} & {"eta", "countdown"}, path
