"""Of a mail server's refusal its kind and codes are kept, never its words. Sources: RFC 5321 4.2.1,
RFC 3463, RFC 2034 4.
"""

import inspect
import smtplib

import pytest

from bookings.outbox.failures import described, is_final

QUOTED = (
    b"Message rejected: 'Dear Noor, your lesson' to noor@family.example https://school/x/secret"
)


def rcpt(code: int, text: bytes) -> Exception:
    return smtplib.SMTPRecipientsRefused({"noor@family.example": (code, text)})


@pytest.mark.parametrize(
    ("error", "told", "final"),
    [
        (rcpt(550, b"5.1.1 " + QUOTED), "SMTP 550 5.1.1", True),
        (rcpt(550, QUOTED), "SMTP 550", True),
        (rcpt(450, b"4.2.1 " + QUOTED), "SMTP 450 4.2.1", False),
        (smtplib.SMTPDataError(554, b"5.7.1 " + QUOTED), "SMTP 554 5.7.1", True),
        (smtplib.SMTPDataError(554, b"5.7.1234 " + QUOTED), "SMTP 554", True),
        (smtplib.SMTPDataError(451, b"4.3.0 " + QUOTED), "SMTP 451 4.3.0", False),
        (smtplib.SMTPDataError(550, "5.6.0 words"), "SMTP 550 5.6.0", True),
        (smtplib.SMTPSenderRefused(550, b"5.7.1 " + QUOTED, "x"), "SMTP 550 5.7.1", False),
        (smtplib.SMTPAuthenticationError(535, b"5.7.8 " + QUOTED), "SMTP 535 5.7.8", False),
        (smtplib.SMTPConnectError(554, QUOTED), "SMTP 554", False),
        (smtplib.SMTPServerDisconnected(QUOTED.decode()), "SMTPServerDisconnected", False),
        (ConnectionRefusedError(111, QUOTED.decode()), "ConnectionRefusedError", False),
        (TimeoutError(QUOTED.decode()), "TimeoutError", False),
        (UnicodeEncodeError("ascii", QUOTED.decode(), 0, 1, "x"), "UnicodeEncodeError", False),
    ],
)
def test_a_failure_is_its_kind_and_its_codes(error: Exception, told: str, final: bool) -> None:
    """What is about this recipient or this message and 5xx is final; the rest may be mended."""
    assert (described(error), is_final(error)) == (told, final)


def test_no_error_of_the_library_tells_its_words() -> None:
    """Every exception that smtplib can raise, made with words as long as they like: not one of them
    is told.
    """
    kinds = [
        kind
        for _, kind in inspect.getmembers(smtplib, inspect.isclass)
        if issubclass(kind, smtplib.SMTPException)
    ]
    assert len(kinds) >= 10
    for kind in kinds:
        words = QUOTED.decode()
        if issubclass(kind, smtplib.SMTPRecipientsRefused):
            error: Exception = kind({words: (550, QUOTED)})
        elif issubclass(kind, smtplib.SMTPSenderRefused):
            error = kind(550, QUOTED, words)
        elif issubclass(kind, smtplib.SMTPResponseException):
            error = kind(550, QUOTED)
        else:
            error = kind(words)
        assert described(error) in {"SMTP 550", kind.__name__}
