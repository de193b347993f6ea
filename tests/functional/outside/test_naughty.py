"""485 strings that have broken other programs, in every text that reaches a calendar or a mail."""

import email
from dataclasses import replace
from datetime import UTC, datetime
from email import policy
from email.header import decode_header, make_header
from email.message import EmailMessage, Message
from email.utils import parseaddr
from time import monotonic

import pytest

from bookings.calendars.events import CalendarEvent, Party
from bookings.calendars.feeds import feed
from bookings.calendars.invitations import cancel, download, request
from bookings.calendars.mail import invitation_mail
from bookings.calendars.text import clean, one_line
from tests.functional.outside.reader import Ask, expected, found
from tests.functional.outside.shapes import names_of, read_by_icalendar
from tests.unit.calendars_samples import CONSULTATION, WINDOW

pytestmark = pytest.mark.node
Written = tuple[bytes, CalendarEvent, str | None, Party | None]


def files(text: str) -> list[Written]:
    """Each form of file with `text` wherever a person's text can stand, and what is meant by it."""
    event = replace(CONSULTATION, summary=text, description=text, join_address=text)
    school, person = parties(text)
    off = replace(event, status="CANCELLED")
    return [
        (feed(text, "America/New_York", [event], *WINDOW), event, None, None),
        (request(event, school, person), event, "REQUEST", person),
        (cancel(event, school, person, whole=True), off, "CANCEL", person),
        (download(event, school), event, "PUBLISH", None),
    ]


def test_no_string_breaks_a_calendar(ical_js: Ask, naughty: list[str]) -> None:
    """Title, description, address, names of school, person and feed: the same properties as around
    plain words, no broken line, and both readers find the text cleaned; each string in under two
    seconds.
    """
    shapes = [names_of(written) for written, *_ in files("Hands together")]
    for text in naughty:
        began = monotonic()
        bare = not clean(text)  # then a property is left out, which is no change to the rest
        for (written, event, method, person), shape in zip(files(text), shapes, strict=True):
            meant = [expected(event, method, person)]
            assert read_by_icalendar(written) == meant, text
            assert found(ical_js, written) == meant, text
            assert bare or names_of(written) == shape, text
        assert monotonic() - began < 2, text


def words(field: str) -> str:
    """A header's text as RFC 2047 has it, every space of it: the newer reader puts one between two
    encoded words.
    """
    return str(make_header(decode_header(field)))


METHODS = {"invitation": "REQUEST", "cancellation": "CANCEL"}


def calendar_of(form: str, text: str) -> bytes | None:
    """The calendar part of that form of mail, with `text` as its title and in its names."""
    event = replace(CONSULTATION, summary=text)
    if form == "invitation":
        return request(event, *parties(text))
    if form == "cancellation":
        return cancel(event, *parties(text), whole=True)
    return None


def parties(text: str) -> tuple[Party, Party]:
    """The school and the reader, both of that name."""
    return Party("lessons@rowanmere.example", text), Party("noor@rowanmere.example", text)


def mail(form: str, text: str, calendar: bytes | None) -> bytes:
    """A mail of that form with `text` in its subject, its names and its body."""
    sender, recipient = parties(text)
    return invitation_mail(
        subject=f"Booked: {text}",
        body=f"Dear {text},\n\n{text}",
        sender=sender,
        recipient=recipient,
        message_id="<6b0d9a52.0.1@rowanmere.example>",
        calendar=calendar,
        method=METHODS.get(form),
        date=datetime(2027, 3, 1, 9, tzinfo=UTC),
    ).as_bytes()


def check_headers(message: EmailMessage, text: str, *, has_calendar: bool) -> None:
    """No header but ours, and no defect in any part."""
    common = ["From", "To", "Subject", "Date", "Message-ID", "Auto-Submitted"]
    whole = [*common, "MIME-Version", "Content-Type"] if has_calendar else common
    assert [
        name for name in message if name in whole or not name.startswith(("Content-", "MIME-"))
    ] == whole, text
    for part in message.walk():
        assert not part.defects, text
        assert not any(getattr(value, "defects", ()) for value in part.values()), (
            text,
            part.items(),
        )


def check_words(message: EmailMessage, plainly: Message, text: str) -> None:
    """One sender, one recipient, the subject and the body as they were meant; `plainly` is the same
    mail as the older reader has it.
    """
    for name, party in zip(("From", "To"), parties(text), strict=True):
        assert [address.addr_spec for address in message[name].addresses] == [party.email], text
        shown, address = parseaddr("".join(plainly[name].splitlines()))
        assert (words(shown), address) == (one_line(text), party.email), text
    subject = words("".join(plainly["Subject"].splitlines()).strip())
    assert subject == one_line(f"Booked: {text}"), text
    plain = message.get_body(("plain",))
    assert plain is not None
    said = plain.get_content().replace("\r\n", "\n").removesuffix("\n")
    assert said == clean(f"Dear {text},\n\n{text}").removesuffix("\n"), text


@pytest.mark.parametrize("form", ["invitation", "cancellation", "told"])
def test_no_string_breaks_a_mail(naughty: list[str], form: str) -> None:
    """Subject, names and text of each kind of mail: Python's email finds no defect, no header but
    ours, ASCII lines of at most 998 octets (RFC 5322 section 2.1.1), one recipient, and the text as
    it was meant.
    """
    for text in naughty:
        calendar = calendar_of(form, text)
        octets = mail(form, text, calendar)
        assert octets.isascii(), text
        assert not set(b"\r\n") & set(octets.replace(b"\r\n", b"")), text
        assert max(map(len, octets.split(b"\r\n"))) <= 998, text
        message = email.message_from_bytes(octets, policy=policy.default)
        check_headers(message, text, has_calendar=calendar is not None)
        check_words(message, email.message_from_bytes(octets), text)
        files = [
            part.get_payload(decode=True)
            for part in message.walk()
            if part.get_content_type() in ("text/calendar", "application/ics")
        ]
        assert files == ([calendar, calendar] if calendar else []), text
