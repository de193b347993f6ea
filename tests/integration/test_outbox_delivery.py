"""Real deliveries: files, an SMTP server, two threads at once, and the web process's own thread."""

import socket
import threading
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from django.db import connection, transaction

from bookings import notices, outbox
from bookings.models import OutboxMessage
from tests.cast import (
    NOW,
    at,
    make_booking,
    make_instructor,
    make_meeting,
    make_offering,
    make_student,
    make_user,
)
from tests.letters import keep, value, written


def book() -> list[OutboxMessage]:
    """A consultation of somebody with an accent in name and domain, and a summary that needs
    folding.
    """
    meeting = make_meeting(
        make_offering(),
        make_instructor("Ilse Quarrow"),
        at("2027-03-15T21:00Z"),
        title="Étude in ♭, " + "slowly " * 9,
    )
    return keep(
        notices.booking_made(
            make_booking(meeting, make_student("Zoë Ashgrove", email="zoe@exämple.example")),
            now=NOW,
        ),
        NOW,
    )


def check_parts(mail: EmailMessage, message: OutboxMessage) -> None:
    """RFC 6047 section 2.4: text, HTML and text/calendar as alternatives, `method` equal to METHOD,
    and the file beside them.
    """
    alternative, attached = mail.iter_parts()
    plain, in_html, calendar = alternative.iter_parts()
    assert in_html.get_content_type() == "text/html"
    assert mail["Message-ID"] == message.message_id
    assert mail["To"].addresses[0].addr_spec == message.to_address
    assert plain.get_content().replace("\r\n", "\n") == message.body
    assert calendar.get_content_type() == "text/calendar"
    assert calendar.get_param("method") == message.method
    assert attached.get_filename() == "meeting.ics"
    for part in (calendar, attached):
        content = part.get_payload(decode=True)
        assert content.decode() == message.calendar
        assert value(content.decode(), "METHOD") == message.method
        assert all(len(line) <= 75 for line in content.split(b"\r\n"))


@pytest.mark.django_db
def test_a_mail_in_a_file_reads_back(settings: Any, tmp_path: Path) -> None:
    """What the embedded default writes is a whole message, read here by the standard library."""
    settings.EMAIL_BACKEND, settings.EMAIL_FILE_PATH = (
        "django.core.mail.backends.filebased.EmailBackend",
        str(tmp_path),
    )
    messages = {message.message_id: message for message in book() if message.due_at == NOW}
    assert outbox.drain(lambda: NOW) == 2
    mails = written(tmp_path)
    assert {mail["Message-ID"] for mail in mails} == set(messages)
    for mail in mails:
        check_parts(mail, messages[mail["Message-ID"]])


@pytest.mark.django_db
def test_a_mail_over_smtp_reads_back(settings: Any) -> None:
    """A server on this machine gets CRLF lines of ASCII, one recipient, and the same message."""
    got: list[Any] = []

    class Handler:
        async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
            got.append(envelope)
            return "250 kept"

    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    controller = Controller(Handler(), hostname="127.0.0.1", port=port)
    controller.start()
    try:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
        message = book()[0]
        assert outbox.drain(lambda: NOW) == 2
    finally:
        controller.stop()
    envelope = next(envelope for envelope in got if envelope.rcpt_tos == [message.to_address])
    assert envelope.mail_from == "lessons@rowanmere.example"
    assert envelope.content.isascii()
    assert b"\n" not in envelope.content.replace(b"\r\n", b"")
    mail = message_from_bytes(envelope.content, policy=policy.SMTP)
    assert isinstance(mail, EmailMessage)
    check_parts(mail, message)


@pytest.mark.django_db(transaction=True)
def test_two_threads_send_each_message_once(settings: Any, tmp_path: Path) -> None:
    """Both drain at the same moment, on SQLite and PostgreSQL: 40 messages, 40 mails, each once."""
    settings.EMAIL_BACKEND, settings.EMAIL_FILE_PATH = (
        "django.core.mail.backends.filebased.EmailBackend",
        str(tmp_path),
    )
    readers = [make_user(f"Reader {number}") for number in range(40)]
    keep(
        [
            notices.rows.row(
                reader, outbox.MessageKind.TOLD, "x", "x", title="x", body="x\n", now=NOW
            )
            for reader in readers
        ],
        NOW,
    )
    together, counts = threading.Barrier(2), []

    def work() -> None:
        together.wait()
        counts.append(outbox.drain(lambda: NOW))
        connection.close()

    threads = [threading.Thread(target=work) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert sum(counts) == 40
    ids = [mail["Message-ID"] for mail in written(tmp_path)]
    assert len(ids) == len(set(ids)) == 40


@pytest.mark.django_db(transaction=True)
def test_the_thread_of_the_web_process_sends_after_the_commit(
    settings: Any, tmp_path: Path
) -> None:
    """A nudge makes it send at once, a tick comes by itself; after `stop` nothing happens."""
    settings.EMAIL_BACKEND, settings.EMAIL_FILE_PATH = (
        "django.core.mail.backends.filebased.EmailBackend",
        str(tmp_path),
    )
    ticked, drained = threading.Event(), threading.Event()
    sweeper = outbox.Sweeper(
        on_nudge=lambda: outbox.drain(lambda: NOW) and drained.set(),
        on_tick=ticked.set,
        seconds=3600,
    )
    outbox.register_notifier(sweeper.wake)
    try:
        outbox.nudge()
        assert ticked.wait(10)
        with transaction.atomic():
            messages = [
                notices.rows.row(
                    make_user(), outbox.MessageKind.TOLD, "x", "x", title="x", body="x\n", now=NOW
                )
            ]
            outbox.enqueue(messages, now=NOW)
        outbox.nudge()
        assert drained.wait(10)
    finally:
        outbox.register_notifier(None)
        sweeper.stop()
    assert len(written(tmp_path)) == 1
    drained.clear()
    sweeper.wake()
    assert not drained.wait(0.2)


@pytest.mark.django_db(transaction=True)
def test_a_round_that_fails_does_not_end_the_thread() -> None:
    """A database that is away for a moment is survived."""
    rounds, lived = [], threading.Event()

    def act() -> None:
        rounds.append(1)
        if len(rounds) == 1:
            raise ConnectionError("the database is away")
        lived.set()

    sweeper = outbox.Sweeper(on_nudge=act, on_tick=act, seconds=0.05)
    try:
        sweeper.wake()
        assert lived.wait(10)
    finally:
        sweeper.stop()
