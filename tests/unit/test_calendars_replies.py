"""The forms in which calendars answer, and what is refused: RFC 6047 sections 2.4, 2.5 and 4, RFC
5546 sections 3.2.3 to 3.2.7.
"""

import time
from datetime import UTC, datetime
from email.message import EmailMessage
from email.policy import SMTP

import pytest

from bookings.calendars.ignoring import Ignored, WhyIgnored
from bookings.calendars.replies import CalendarReply, Method, read_reply

EVENT = (
    "BEGIN:VCALENDAR\r\nPRODID:-//Somebody//EN\r\nMETHOD:{method}\r\nVERSION:2.0\r\n"
    "BEGIN:VEVENT\r\n"
    "ORGANIZER:mailto:a@rowanmere.example\r\n"
    "ATTENDEE;PARTSTAT=ACCEPTED:mailto:B@rowanmere.example\r\nUID:u-1\r\nSEQUENCE:0\r\n"
    "DTSTAMP:19970612T190000Z\r\nDTSTART:19970701T210000Z\r\n{more}END:VEVENT\r\nEND:VCALENDAR\r\n"
)
HEAD = "From: <b@rowanmere.example>\r\nTo: <a@rowanmere.example>\r\nMIME-Version: 1.0\r\n"


def plain(method="REPLY", more="", head=HEAD, named=None):
    """A mail that is the calendar and nothing else."""
    kind = f"Content-Type: text/calendar; method={named or method}; charset=UTF-8\r\n\r\n"
    return (head + kind + EVENT.format(method=method, more=more)).encode()


def reason_of(mail, **envelope):
    with pytest.raises(Ignored) as ignored:
        read_reply(mail, **envelope)
    return ignored.value.reason


def test_a_reply_is_read():
    """RFC 5546 section 4.2.2: B accepts; addresses are compared without regard to case."""
    read = read_reply(plain())
    assert (read.method, read.uid, read.sequence, read.partstat) == (
        Method.REPLY,
        "u-1",
        0,
        "ACCEPTED",
    )
    assert (read.sender, set(read.to)) == ("b@rowanmere.example", {"a@rowanmere.example"})
    assert read.stamp == datetime(1997, 6, 12, 19, tzinfo=UTC)


def test_sender_and_attendee_are_told_apart() -> None:
    """RFC 6047 section 2.2.1: From and ATTENDEE may differ; what then follows is not the reader's
    to say.
    """
    read = read_reply(plain(head=HEAD.replace("<b@", "<c@")))
    assert (read.sender, read.attendee) == ("c@rowanmere.example", "b@rowanmere.example")


def test_an_answer_goes_through_text_and_back() -> None:
    """It is read in another process, and comes back as JSON."""
    for method in ("REPLY", "COUNTER", "REFRESH"):
        read = read_reply(plain(method))
        assert CalendarReply.from_text(read.as_text()) == read


def test_the_mail_server_vouches_for_the_domain_of_from() -> None:
    """RFC 8601: only where the trusted server's own result is the topmost with its name, in the
    headers of the mail itself.
    """
    passed = "Authentication-Results: mx.example; dmarc=pass header.from=rowanmere.example\r\n"
    failed = passed.replace("=pass", "=fail")

    def is_sure(head: str, authserv_id: str = "mx.example") -> bool:
        return read_reply(plain(head=head + HEAD), authserv_id=authserv_id).is_vouched_for

    assert is_sure(passed)
    assert is_sure(passed + failed)
    assert not is_sure(failed + passed)
    assert not is_sure(passed, "other.example")
    assert not is_sure(passed, "")
    assert not is_sure("")


def test_a_reply_inside_alternatives_is_read():
    """RFC 6047 section 4.2: multipart/alternative, the calendar beside plain text; its 'method' may
    be in any case.
    """
    head = HEAD + 'Content-Type: multipart/alternative; boundary="01BD3665.3AF0D360"\r\n\r\n'
    text = (
        "--01BD3665.3AF0D360\r\nContent-Type: text/plain; charset=us-ascii\r\n\r\n"
        "This is an answer.\r\n"
    )
    part = (
        "--01BD3665.3AF0D360\r\nContent-Type: text/calendar; method=reply; charset=us-ascii\r\n"
        "Content-Transfer-Encoding: 7bit\r\n\r\n"
    )
    mail = head + text + part + EVENT.format(method="REPLY", more="") + "--01BD3665.3AF0D360--\r\n"
    assert read_reply(mail.encode()).partstat == "ACCEPTED"


def test_quoted_printable_cyrillic_is_read():
    """RFC 6047 section 2.5: the example's DESCRIPTION in quoted-printable; it is decoded, and none
    of it is kept.
    """
    words = (
        "=D1=82=D1=8B =D0=BA=D0=B0=D0=BA - =D0=B4=D0=BE=D0=B2=D0=BE=D0=BB=D0=B5=D0=BD "
        "=D0=BF=D0=BE=D0=B5=D0=B7=D0=B4=D0=BA=D0=BE=D0=B9?"
    )
    event = (
        EVENT.format(method="REPLY", more="")
        .replace("=", "=3D")
        .replace("END:VEVENT", f"DESCRIPTION:{words}\r\nEND:VEVENT")
    )
    head = HEAD + (
        "Content-Type: text/calendar; method=REPLY; charset=UTF-8\r\n"
        "Content-Transfer-Encoding: quoted-printable\r\n\r\n"
    )
    read = read_reply((head + event).encode())
    assert read.partstat == "ACCEPTED"
    assert "доволен" not in repr(read)


@pytest.mark.parametrize("charset", ["iso-8859-1", "ISO-8859-1", "latin1", "utf8"])
def test_other_names_of_charsets_are_read(charset: str) -> None:
    """RFC 6047 section 2.4: the charset is the part's own; older calendars write ISO-8859-1, and a
    name there is one byte a letter.
    """
    encoding = "utf-8" if charset == "utf8" else "iso-8859-1"
    mail = plain(more="COMMENT:Zoë\r\n").decode().replace("UTF-8", charset).encode(encoding)
    assert read_reply(mail).partstat == "ACCEPTED"


@pytest.mark.parametrize("charset", ["UTF-8", "us-ascii", "iso-8859-1"])
def test_a_byte_order_mark_before_the_calendar_is_read(charset: str) -> None:
    """Common practice: three bytes that some programs write before any UTF-8 text, whatever charset
    they name.
    """
    mail = plain().replace(b"BEGIN:VCALENDAR", b"\xef\xbb\xbfBEGIN:VCALENDAR")
    assert read_reply(mail.replace(b"UTF-8", charset.encode())).partstat == "ACCEPTED"


def twice(second: str) -> bytes:
    """A calendar beside plain text, in quoted-printable, and `second` attached to the same email in
    base64.
    """
    first = EVENT.format(method="REPLY", more="")
    mail = EmailMessage(policy=SMTP)
    mail["From"], mail["To"] = "b@rowanmere.example", "a@rowanmere.example"
    mail.set_content("This is an answer.\n")
    kind = {"maintype": "text", "subtype": "calendar", "params": {"method": "REPLY"}}
    mail.add_alternative(first.encode(), **kind, cte="quoted-printable")
    mail.add_attachment(second.encode(), **kind, cte="base64", filename="invite.ics")
    return mail.as_bytes()


def test_the_same_calendar_attached_again_is_one_answer() -> None:
    """Common practice: the part that programs read, and the same text as a file for people; line
    ends may differ.
    """
    again = EVENT.format(method="REPLY", more="")
    for second in (again, again.replace("\r\n", "\n"), f"\ufeff{again}\r\n"):
        assert read_reply(twice(second)).partstat == "ACCEPTED"


def test_two_different_calendars_are_no_answer() -> None:
    """Which of the two was meant nobody knows."""
    declined = EVENT.format(method="REPLY", more="").replace("ACCEPTED", "DECLINED")
    assert reason_of(twice(declined)) is WhyIgnored.MALFORMED


def test_a_counter_names_the_start_it_asks_for():
    """RFC 5546 section 4.2.4: a COUNTER carries the time proposed; a REFRESH carries none (section
    3.2.6).
    """
    assert read_reply(plain("COUNTER")).starts_at == datetime(1997, 7, 1, 21, tzinfo=UTC)
    assert read_reply(plain("REFRESH")).starts_at is None


BROKEN = {
    "no method parameter": (plain().replace(b" method=REPLY;", b""), WhyIgnored.NO_ANSWER),
    "another method in the calendar": (plain(named="REFRESH"), WhyIgnored.MALFORMED),
    "a REQUEST": (plain("REQUEST"), WhyIgnored.NO_ANSWER),
    "a letter by hand": ((HEAD + "\r\nSee you on Friday!").encode(), WhyIgnored.NO_ANSWER),
    "nothing": (b"", WhyIgnored.NO_ANSWER),
    "two attendees": (plain(more="ATTENDEE:mailto:c@rowanmere.example\r\n"), WhyIgnored.MALFORMED),
    "two senders": (
        plain(head=HEAD.replace("<b@", "<c@rowanmere.example>, <b@")),
        WhyIgnored.MALFORMED,
    ),
    "one instance": (plain(more="RECURRENCE-ID:19970701T210000Z\r\n"), WhyIgnored.MALFORMED),
    "a repetition": (plain(more="RRULE:FREQ=SECONDLY\r\n"), WhyIgnored.MALFORMED),
    "a date for a time": (
        plain("COUNTER").replace(b"DTSTART:19970701T210000Z", b"DTSTART;VALUE=DATE:19970701"),
        WhyIgnored.MALFORMED,
    ),
    "a time without a zone": (
        plain("COUNTER").replace(b"DTSTART:19970701T210000Z", b"DTSTART:19970701T210000"),
        WhyIgnored.MALFORMED,
    ),
    "no UID": (plain().replace(b"UID:u-1\r\n", b""), WhyIgnored.MALFORMED),
    "no DTSTAMP": (plain().replace(b"DTSTAMP:19970612T190000Z\r\n", b""), WhyIgnored.MALFORMED),
    "no attendee": (
        plain().replace(b"ATTENDEE;PARTSTAT=ACCEPTED:mailto:B@", b"CONTACT:b@"),
        WhyIgnored.MALFORMED,
    ),
    "no end": (plain().replace(b"END:VCALENDAR\r\n", b""), WhyIgnored.MALFORMED),
    "two events": (
        plain().replace(b"END:VCALENDAR", b"BEGIN:VEVENT\r\nUID:v\r\nEND:VEVENT\r\nEND:VCALENDAR"),
        WhyIgnored.MALFORMED,
    ),
    "a huge SEQUENCE": (
        plain().replace(b"SEQUENCE:0", b"SEQUENCE:99999999999999999999"),
        WhyIgnored.MALFORMED,
    ),
    "not UTF-8": (plain().replace(b"u-1", b"u-\xff"), WhyIgnored.MALFORMED),
    "an unknown charset": (plain().replace(b"UTF-8", b"x-nothing"), WhyIgnored.MALFORMED),
    "60 parts in parts": (
        (
            HEAD
            + "".join(
                f'Content-Type: multipart/mixed; boundary="b{n}"\r\n\r\n--b{n}\r\n'
                for n in range(60)
            )
        ).encode(),
        WhyIgnored.MALFORMED,
    ),
    "2,000 lines": (plain(more="X-A:1\r\n" * 2_000), WhyIgnored.MALFORMED),
    "100 KB in one line": (plain(more="X-A:" + "a" * 100_000 + "\r\n"), WhyIgnored.MALFORMED),
    "deep components": (plain(more="BEGIN:X\r\n" * 400), WhyIgnored.MALFORMED),
    "more than 256 KB": (plain() + b"a" * 300_000, WhyIgnored.TOO_LARGE),
    "absence": (plain(head="Auto-Submitted: auto-replied\r\n" + HEAD), WhyIgnored.AUTOMATIC),
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_no_answer_is_ignored_fast(name):
    """Each broken or foreign mail is ignored for its reason, in under 2 seconds."""
    mail, reason = BROKEN[name]
    began = time.perf_counter()
    assert reason_of(mail) is reason
    assert time.perf_counter() - began < 2


def test_the_envelope_speaks_before_the_mail():
    """An empty envelope sender is a bounce (RFC 5321 section 4.5.5); the envelope's recipient is
    the one address.
    """
    assert reason_of(plain(), sender="") is WhyIgnored.AUTOMATIC
    assert set(
        read_reply(plain(), to="Other@rowanmere.example", sender="b@rowanmere.example").to
    ) == {"other@rowanmere.example"}
