"""A mail server's refusal as its kind and codes. Its words are not kept: they quote the email."""

import re
from smtplib import SMTPDataError, SMTPRecipientsRefused, SMTPResponseException

from bookings.domain.email_troubles import is_refused_for_good

_ENHANCED = re.compile(rb"\s*([245]\.\d{1,3}\.\d{1,3})(?!\S)")
"""The enhanced status code at the beginning of a reply (RFC 2034 section 4, RFC 3463)."""


def described(error: Exception) -> str:
    """ "SMTP 550 5.1.1", or the class of the error where no server answered."""
    answer = _answer(error)
    if answer is None:
        return type(error).__name__
    return f"SMTP {answer[0]} {status_of(error)}".rstrip()


def status_of(error: Exception) -> str:
    """The enhanced status of the reply, such as "5.1.1"; empty without one."""
    answer = _answer(error)
    enhanced = _ENHANCED.match(answer[1]) if answer else None
    return enhanced[1].decode() if enhanced else ""


def is_address_gone(error: Exception) -> bool:
    """Whether the server refused the recipient because there is no such mailbox.

    A refusal by a policy lies with the school or its mail server, and says nothing of the address.
    """
    answer = _answer(error)
    if not isinstance(error, SMTPRecipientsRefused) or answer is None:
        return False
    return is_refused_for_good(answer[0], status_of(error))


def is_final(error: Exception) -> bool:
    """Whether the server refused this recipient or message for good (RFC 5321 section 4.2.1: 5yz).

    A refused sign-in, greeting or sender concerns the school's own account with the server.
    Somebody may repair that, so the message waits.
    """
    answer = _answer(error)
    is_about_the_message = isinstance(error, (SMTPRecipientsRefused, SMTPDataError))
    return is_about_the_message and answer is not None and 500 <= answer[0] < 600


def _answer(error: Exception) -> tuple[int, bytes] | None:
    """The code and the text of the server's reply; None without a reply."""
    if isinstance(error, SMTPRecipientsRefused):
        replies = list(error.recipients.values())
        return _as_bytes(*replies[0]) if len(replies) == 1 else None
    if isinstance(error, SMTPResponseException):
        return _as_bytes(error.smtp_code, error.smtp_error)
    return None


def _as_bytes(code: int, text: bytes | str) -> tuple[int, bytes]:
    return code, text.encode(errors="replace") if isinstance(text, str) else text
