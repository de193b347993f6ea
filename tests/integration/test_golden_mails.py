"""Every kind of mail as it leaves, compared byte by byte with files that were read as their
receivers read them.

A file holds the headers, then each part with its own headers and its text decoded. `GOLDEN=write`
in the environment writes them anew; then read what git shows as changed.
"""

import os
import re
from email import message_from_bytes
from email.message import Message
from pathlib import Path

import pytest
from django.core import mail
from django.db import transaction

from bookings import notices
from bookings.models import OutboxMessage
from bookings.outbox import MessageKind
from bookings.outbox.kinds import REMINDERS
from bookings.outbox.sending import send
from tests.integration import told

pytestmark = pytest.mark.django_db
GOLDEN = Path(__file__).parent.parent / "golden" / "mails"
CLASSES = {
    "AccountEvent",
    "CalledOff",
    "Cleared",
    "Covered",
    "Left",
    "LeftOut",
    "Moved",
    "MovedLesson",
    "OutboxMessage",
    "OwnClock",
    "SameMeeting",
    "Taken",
}
NO_LETTERS = CLASSES | {
    "by_reader",
    "charged_if_late",
    "consent_state",
    "readers_of",
    "own_clock_key",
    "owed_reminder_keys",
    "plan_key",
}
"""What notices hands out beside the functions that write letters."""
REMINDED = {"booked", "booked_in_group", "another_clock"}
"""Where reminders are kept; they say the same everywhere."""


@pytest.fixture
def letters(settings, monkeypatch) -> dict[str, OutboxMessage]:
    """Every letter of every chapter under the name of its file: what happened, the kind, the
    reader.
    """
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    settings.BASE_URL, settings.SECRET_KEY = (
        "https://school.rowanmere.example",
        "open-secret-of-the-golden-files",
    )
    found: dict[str, OutboxMessage] = {}
    for chapter in told.CHAPTERS:
        settings.REPLY_ADDRESS = (
            "lessons+{key}@rowanmere.example" if chapter is told.answers else ""
        )
        with transaction.atomic():  # each begins in the same school
            for what, messages in chapter(told.School()):
                for message in messages:
                    reader = message.to_address.partition("@")[0]
                    if message.kind not in REMINDERS or what in REMINDED:
                        found.setdefault(f"{what}.{message.kind}.{reader}", message)
            transaction.set_rollback(True)
    return found


def left(message: OutboxMessage) -> Message:
    """The message as the mail backend was handed it; its lines hold as RFC 5322 section 2.1.1 has
    them.
    """
    send(message)
    raw = mail.outbox.pop().message().as_bytes()
    assert raw.isascii() and b"\n" not in raw.replace(b"\r\n", b"")
    assert all(len(line) <= 998 for line in raw.split(b"\r\n"))
    boundaries = dict.fromkeys(re.findall(rb'boundary="([^"]+)"', raw))
    for number, boundary in enumerate(boundaries, 1):  # the one thing that is another each time
        raw = raw.replace(boundary, b"boundary-%d" % number)
    return message_from_bytes(raw)


def shown(part: Message) -> str:
    """Headers as they leave, then the text as its reader's program has it, part after part."""
    head = "".join(f"{name}: {value}\r\n" for name, value in part.raw_items())
    if part.is_multipart():
        return (
            head
            + "\r\n"
            + "".join(f"--{part.get_boundary()}\r\n{shown(one)}" for one in part.get_payload())
        )
    return f"{head}\r\n{part.get_payload(decode=True).decode()}"


def test_mails_are_the_golden_ones(letters):
    """Headers, words, HTML and calendar of each mail are exactly those of the stored file, and no
    file lies about unused.
    """
    written = {name: shown(left(message)).encode() for name, message in letters.items()}
    if os.environ.get("GOLDEN") == "write":
        for name, mail_bytes in written.items():
            (GOLDEN / f"{name}.mail").write_bytes(mail_bytes)
    assert {path.stem for path in GOLDEN.glob("*.mail")} == set(written)
    for name, mail_bytes in written.items():
        assert mail_bytes.decode() == (GOLDEN / f"{name}.mail").read_bytes().decode(), name


def test_every_kind_of_letter_has_a_golden_file(letters):
    """Each kind and each method of RFC 5546 that we mail is there, and each function of notices
    that writes letters is told.
    """
    assert {message.kind for message in letters.values()} == set(MessageKind)
    assert {message.method for message in letters.values()} == {
        "",
        "REQUEST",
        "CANCEL",
        "DECLINECOUNTER",
    }
    chapters = Path(told.__file__).parent.glob("told*.py")
    source = "".join(path.read_text(encoding="utf-8") for path in chapters)
    letters_of = set(notices.__all__) - NO_LETTERS
    assert {name for name in letters_of if f"notices.{name}(" not in source} == set()
