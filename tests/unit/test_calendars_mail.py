"""The mail around an invitation, read back by the standard library as a mail program would."""

import email
import re
from datetime import UTC, datetime
from email import policy
from email.header import decode_header, make_header

import pytest
from hypothesis import given
from icalendar import Calendar

from bookings.calendars.events import Party
from bookings.calendars.invitations import cancel, request
from bookings.calendars.mail import invitation_mail
from bookings.calendars.text import clean, one_line
from tests.unit.calendars_samples import CONSULTATION, NOOR, SCHOOL, typed_text

WRITTEN = request(CONSULTATION, SCHOOL, NOOR)


def sent(**changes):
    """The octets of a mail with `changes`, as they would go to a server, and the message that
    another program reads in them.
    """
    arguments = {
        "subject": "Booked: consultation with Bram Tolliver",
        "body": "Monday 15 March, 17:00 in New York.\nGrüße vom Étude-Haus",
        "sender": SCHOOL,
        "recipient": NOOR,
        "message_id": "<6b0d9a52.0.1@rowanmere.example>",
        "calendar": WRITTEN,
        "method": "REQUEST",
        "date": datetime(2027, 3, 1, 9, 0, tzinfo=UTC),
    }
    octets = invitation_mail(**{**arguments, **changes}).as_bytes()
    return octets, email.message_from_bytes(octets, policy=policy.default)


def text_of(part):
    """The text of a part with the reader's own line ends, without the one that ends the part."""
    return part.get_content().replace("\r\n", "\n").removesuffix("\n")


def test_calendar_mail_has_the_shape_of_rfc_6047():
    """RFC 6047 section 2.4: words, the same words in HTML and the calendar are alternatives; the
    file is attached as well.
    """
    _, message = sent()
    assert [part.get_content_type() for part in message.walk()] == [
        "multipart/mixed",
        "multipart/alternative",
        "text/plain",
        "text/html",
        "text/calendar",
        "application/ics",
    ]
    *_, plain, _, calendar, attachment = message.walk()
    assert text_of(plain) == "Monday 15 March, 17:00 in New York.\nGrüße vom Étude-Haus"
    assert calendar.get_payload(decode=True) == attachment.get_payload(decode=True) == WRITTEN
    assert (attachment.get_filename(), attachment["Content-Transfer-Encoding"]) == (
        "meeting.ics",
        "base64",
    )


@pytest.mark.parametrize("written", [WRITTEN, cancel(CONSULTATION, SCHOOL, NOOR, whole=True)])
def test_calendar_mail_says_the_method_of_its_calendar(written):
    """RFC 6047 section 2.4: the method parameter equals METHOD, and the charset is named."""
    method = str(Calendar.from_ical(written)["METHOD"])
    _, message = sent(calendar=written, method=method)
    (part,) = [part for part in message.walk() if part.get_content_type() == "text/calendar"]
    assert part["Content-Type"].params == {"method": method, "charset": "UTF-8"}


def test_calendar_mail_has_the_headers_of_an_automatic_message():
    """Date and Message-ID are the caller's, so that a resend is the same message; RFC 3834 marks it
    as automatic.
    """
    _, message = sent()
    assert message["Message-ID"] == "<6b0d9a52.0.1@rowanmere.example>"
    assert message["Date"].datetime == datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
    assert message["Auto-Submitted"] == "auto-generated"
    assert (message["From"], message["To"]) == (
        f"{SCHOOL.name} <{SCHOOL.email}>",
        f"{NOOR.name} <{NOOR.email}>",
    )


def test_mail_without_calendar_is_text_and_html():
    """A reminder has its words twice, from the plainest to the richest (RFC 2046 section 5.1.4)."""
    _, message = sent(calendar=None, method=None)
    assert [part.get_content_type() for part in message.walk()] == [
        "multipart/alternative",
        "text/plain",
        "text/html",
    ]


@pytest.mark.parametrize("changes", [{"method": "CANCEL"}, {"method": None}, {"calendar": None}])
def test_calendar_mail_refuses_another_method(changes):
    """A method that the calendar does not have would be read as another message than it is."""
    with pytest.raises(ValueError, match="METHOD"):
        sent(**changes)


@pytest.mark.parametrize(
    "message_id",
    ["a@b.example", "<a b@c.example>", "<a@b.example>\r\nBcc: <x@y.example>", "<a@b.example>\n"],
)
def test_calendar_mail_refuses_a_crooked_message_id(message_id):
    """A Message-ID is one token in angle brackets."""
    with pytest.raises(ValueError, match="Message-ID"):
        sent(message_id=message_id)


def test_calendar_mail_refuses_a_naive_date():
    """A date without its offset would be read as another instant."""
    with pytest.raises(ValueError, match="aware"):
        sent(date=datetime(2027, 3, 1, 9, 0))


@pytest.mark.parametrize("length", [30, 60, 70, 120])
def test_no_header_begins_with_an_empty_line(length):
    """RFC 5322 section 3.2.2 lets nobody fold to a line of white space alone, and readers in use
    take such a header for empty.
    """
    octets, message = sent(
        subject="Booked: " + "harp " * (length // 5),
        message_id=f"<{'a' * length}@rowanmere.example>",
    )
    assert not re.search(rb"^[A-Za-z-]+:[ \t]*\r\n", octets.partition(b"\r\n\r\n")[0], re.MULTILINE)
    assert message["Message-ID"] == f"<{'a' * length}@rowanmere.example>"
    assert str(message["Subject"]) == ("Booked: " + "harp " * (length // 5)).strip()


def test_calendar_mail_keeps_every_space_of_a_long_heading():
    """RFC 2047 section 6.2: white space between encoded words is not shown, so a space between two
    words lies inside one.
    """
    long = "Gebucht: " + "Übung für Anfänger, " * 8 + "Étude"
    octets, _ = sent(subject=long, recipient=Party(NOOR.email, long))
    read = email.message_from_bytes(octets)
    assert str(make_header(decode_header(read["Subject"]))) == long
    assert str(make_header(decode_header(read["To"]))) == f"{long} <{NOOR.email}>"


def test_calendar_mail_keeps_a_long_quoted_name_whole():
    """A name with quotes and commas that has to be folded comes back as it was, without a defect
    (RFC 5322 section 3.2.4).
    """
    name = (
        '<a href="\\x0B" id="one">Marlo "Lo" Vance, of the harps; guest: one, two, and three '
        "more of them</a>"
    )
    octets, message = sent(recipient=Party(NOOR.email, name))
    assert not message["To"].defects
    assert (
        str(make_header(decode_header(email.message_from_bytes(octets)["To"])))
        == f"{name} <{NOOR.email}>"
    )


@given(typed_text, typed_text, typed_text)
def test_calendar_mail_survives_whatever_people_type(subject, body, name):
    """No text adds a header or a part; every line is ASCII of at most 998 octets (RFC 5322 section
    2.1.1); the text comes back.
    """
    octets, message = sent(subject=subject, body=body, recipient=Party(NOOR.email, name))
    assert octets.isascii()
    assert b"\n" not in octets.replace(b"\r\n", b"")
    assert b"\r" not in octets.replace(b"\r\n", b"")
    assert max(len(octets_of_line) for octets_of_line in octets.split(b"\r\n")) <= 998
    assert message.keys() == [
        "From",
        "To",
        "Subject",
        "Date",
        "Message-ID",
        "Auto-Submitted",
        "MIME-Version",
        "Content-Type",
    ]
    (address,) = message["To"].addresses
    assert address.addr_spec == NOOR.email
    # The library's reader puts a space between two encoded words where RFC 2047 section 6.2 wants
    # none.
    assert "".join(address.display_name.split()) == "".join(one_line(name).split())
    assert message["Subject"].split() == one_line(subject).split()
    assert len(list(message.walk())) == 6
    assert text_of(message.get_body(("plain",))) == clean(body).removesuffix("\n")
