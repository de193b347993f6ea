"""Why an email from a stranger is ignored, and reading one within limits."""

from email import message_from_bytes
from email.message import EmailMessage
from enum import StrEnum

from bookings.calendars.mail_headers import MeteredPolicy

MOST_BYTES = 256 * 1024


class WhyIgnored(StrEnum):
    """Why a mail was ignored. The values are stored."""

    TOO_LARGE = "too-large"
    TOO_MUCH = "too-much"
    AUTOMATIC = "automatic"
    NO_ANSWER = "no-answer"
    MALFORMED = "malformed"
    UNKNOWN_ADDRESS = "unknown-address"
    UNKNOWN_SENDER = "unknown-sender"
    UNPROVEN = "unproven"
    OLD = "old"
    NO_PLACE = "no-place"
    TOO_MANY = "too-many"
    REFUSED = "refused"


class Ignored(Exception):
    """A mail without consequences. It holds the reason and nothing of the mail."""

    def __init__(self, reason: WhyIgnored) -> None:
        super().__init__(reason.value)
        self.reason = reason


def parsed(mail: bytes) -> EmailMessage:
    """The parts of a mail. Raises Ignored, or what the library raises about broken ones."""
    if len(mail) > MOST_BYTES:
        raise Ignored(WhyIgnored.TOO_LARGE)
    message = message_from_bytes(mail, EmailMessage, policy=MeteredPolicy())
    assert isinstance(message, EmailMessage)  # noqa: S101  the stubs know only the older class
    return message
