"""Reading the reports of mail servers. Sources: RFC 3464 and RFC 5965 appendix B, whose examples
are in mail_reports.py.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.calendars.ignoring import Ignored, WhyIgnored
from bookings.calendars.reports import MailReport, read_report
from bookings.inbound import answers
from tests.unit.mail_reports import (
    DELAYED,
    FULL_FEEDBACK,
    MINIMAL_FEEDBACK,
    OF_A_GATEWAY,
    SIMPLE,
    TO_SEVERAL,
    complaint,
    report,
)


def heard(mail: bytes, **envelope: str) -> MailReport:
    found = read_report(mail, **envelope)
    assert found is not None
    return found


def why(mail: bytes, **envelope: str) -> WhyIgnored:
    with pytest.raises(Ignored) as ignored:
        read_report(mail, **envelope)
    return ignored.value.reason


@pytest.mark.parametrize(
    ("example", "outcomes"),
    [
        (SIMPLE, [("louis@larches.example", "failed", "4.0.0")]),
        (
            TO_SEVERAL,
            [
                ("arathi@vines.example", "failed", "5.0.0"),
                ("john@hills.example", "delayed", "4.0.0"),
                ("wanda@shore.example", "failed", "5.0.0"),
            ],
        ),
        (OF_A_GATEWAY, [("", "failed", "5.0.0")]),
        (DELAYED, [("thomas@moor.example", "delayed", "4.0.0")]),
    ],
)
def test_the_examples_of_rfc_3464(example: str, outcomes: list[tuple[str, str, str]]) -> None:
    """A recipient of another kind of network has no address of ours; a comment is no status."""
    found = heard(report(example))
    assert [
        (next(iter(one.addresses), ""), one.action, one.status) for one in found.outcomes
    ] == outcomes
    assert not found.is_complaint
    assert found.message_ids == ["<8787KJKJ3K4J3K4J3K4J3.mail@lessons.example>"]


@pytest.mark.parametrize("example", [MINIMAL_FEEDBACK, FULL_FEEDBACK])
def test_the_examples_of_rfc_5965(example: str) -> None:
    """Appendix B.1 and B.2: the address it was sent from is told by the report or by the email."""
    found = heard(complaint(example))
    assert (found.is_complaint, found.outcomes) == (True, [])
    assert "sender@lessons.example" in found.to
    assert found.message_ids == ["<8787KJKJ3K4J3K4J3K4J3.mail@lessons.example>"]


@pytest.mark.parametrize("kind", ["not-spam", "other", "virus", "auth-failure"])
def test_other_feedback_is_no_complaint(kind: str) -> None:
    """RFC 5965 section 7.3, RFC 6591: no reader has said that the email is unwanted."""
    assert why(complaint(MINIMAL_FEEDBACK.replace("abuse", kind))) == WhyIgnored.NO_ANSWER


def test_only_the_headers_may_be_returned() -> None:
    """RFC 6522 section 4: text/rfc822-headers in place of the email, or nothing at all."""
    headers = "Message-ID:\n <told.meeting-7.made.4.abc@lessons.example>\nSubject: x\n"
    found = heard(report(SIMPLE, returned=headers, returned_as="text/rfc822-headers"))
    assert found.message_ids == ["<told.meeting-7.made.4.abc@lessons.example>"]
    assert heard(report(SIMPLE, returned="")).message_ids == []


def test_the_envelope_says_where_it_came_to() -> None:
    """The envelope's recipient outweighs To; without one, the email's own lines are read."""
    mail = report(SIMPLE, to="Someone+B1-X@lessons.example")
    assert heard(mail, to="b@lessons.example").to[0] == "b@lessons.example"
    assert heard(mail).to[0] == "someone+b1-x@lessons.example"


@pytest.mark.parametrize("sender", ["", "<>", "MAILER-DAEMON", "mailer-daemon@mail.shore.example"])
def test_a_report_of_a_delivery_has_no_sender(sender: str) -> None:
    """RFC 3464 section 2. Servers that hand it to a program write a name for the empty one."""
    assert heard(report(SIMPLE), sender=sender).outcomes
    assert why(report(SIMPLE), sender="mallory@elsewhere.example") == WhyIgnored.UNKNOWN_SENDER
    head = "Return-Path: <mallory@elsewhere.example>\n"
    assert why(report(SIMPLE, head=head)) == WhyIgnored.UNKNOWN_SENDER


def test_a_mail_of_another_kind_is_no_report() -> None:
    """An answer of a calendar goes on to the reader of answers; so does a report of reading."""
    assert read_report(b"Subject: multipart/report\r\n\r\nmultipart/report") is None
    assert read_report(report(SIMPLE, kind="disposition-notification")) is None


@pytest.mark.parametrize(
    "broken",
    [
        "",
        "Reporting-MTA: dns; a.example\n",
        SIMPLE.replace("Action: failed", "Action: eaten"),
        SIMPLE.replace("Action: failed", "Action: failed\nAction: delivered"),
        SIMPLE.replace("Action: failed\n", ""),
    ],
)
def test_a_broken_report_is_ignored(broken: str) -> None:
    """Exactly one action for each recipient, of those that RFC 3464 section 2.3.3 names."""
    assert why(report(broken)) == WhyIgnored.MALFORMED


@given(st.binary(max_size=2_000), st.integers(0, 800))
def test_whatever_comes_is_a_report_or_ignored(noise: bytes, at: int) -> None:
    """Bytes put anywhere into a report raise nothing but Ignored."""
    mail = report(TO_SEVERAL)
    try:
        read_report(mail[:at] + noise + mail[at:])
    except Ignored:
        return


def test_a_report_comes_out_of_the_process_as_it_is() -> None:
    """The child process, which has limits, hands over the same report and the same reasons."""
    envelope = {"to": "b@lessons.example", "sender": "", "authserv_id": ""}
    for mail in (report(TO_SEVERAL), complaint(FULL_FEEDBACK)):
        assert answers.read(mail, **envelope) == read_report(mail, to=envelope["to"], sender="")
    with pytest.raises(Ignored) as ignored:
        answers.read(report(""), **envelope)
    assert ignored.value.reason is WhyIgnored.MALFORMED
    with pytest.raises(Ignored) as ignored:
        answers.read(report(SIMPLE) + b"x" * 300_000, **envelope)
    assert ignored.value.reason is WhyIgnored.TOO_LARGE
