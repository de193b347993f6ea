"""When an email address counts as one that we cannot reach, by what mail servers report of it.

Statuses are those of RFC 3463: "5.1.1" is a mailbox that does not exist.
"""

from datetime import timedelta
from enum import StrEnum

DAYS_OF_TROUBLE = 5
"""So many different days (UTC) with trouble that may pass by itself. Common practice."""
FORGOTTEN_AFTER = timedelta(days=14)
"""After so long without trouble, earlier days no longer count."""
# About the mailbox or its domain itself. Full mailboxes, sizes, contents and policies are left
# out: they may pass, or lie with the school.
_GONE = {"5.0.0", "5.2.0", "5.2.1", "5.4.0", "5.4.4"}
_OF_THE_SENDER = {"5.1.7", "5.1.8"}
# RFC 5321 section 4.2.3 and RFC 7504, for a server that gives no status.
_GONE_CODES = {521, 550, 551, 553, 556}


class Trouble(StrEnum):
    """Why no email is sent to an address. The values are stored."""

    GONE = "gone"
    REPEATED = "repeated"
    COMPLAINT = "complaint"


IN_WORDS = {
    Trouble.GONE: "its mail server says that the mailbox does not exist or takes no email",
    Trouble.REPEATED: f"emails could not be delivered on {DAYS_OF_TROUBLE} different days",
    Trouble.COMPLAINT: "somebody who reads it reported an email from the school as unwanted",
}
"""The end of a sentence that begins with the address."""


def is_gone(status: str) -> bool:
    """Whether a failure with this status is of the address itself, and for good."""
    return status in _GONE or (status.startswith("5.1.") and status not in _OF_THE_SENDER)


def is_refused_for_good(code: int, status: str) -> bool:
    """Whether the reply to RCPT says so: by its status, or by its code where it has none."""
    return is_gone(status) if status else code in _GONE_CODES
