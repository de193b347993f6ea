"""What an admin has to look at, and how near an end must be before it is worth their time."""

from datetime import timedelta
from enum import StrEnum


class Need(StrEnum):
    """What can need an admin, in the order of the page: lessons ahead first, then the books."""

    CONSENT = "consent"
    CLASH = "clash"
    COVER = "cover"
    MOVE_REQUEST = "move-request"
    PROPOSAL = "proposal"
    EXCHANGE = "exchange"
    OFFER = "offer"
    MINIMUM = "minimum"
    REGISTER = "register"
    OWED = "owed"
    STATEMENT = "statement"
    EMAIL = "email"
    WEBHOOK = "webhook"
    ADDRESS = "address"
    REVIEW = "review"
    DATA_REQUEST = "data-request"
    SECOND_FACTOR = "second-factor"


# Common practice; no source names a number.
ANSWER_NEAR = timedelta(hours=24)
"""How long before its answer-by an open proposal or exchange is shown."""
DECISION_NEAR = timedelta(days=7)
"""How long before its time to decide a meeting below its minimum is shown."""
USE_BY_NEAR = timedelta(days=14)
"""How long before its use-by date an owed lesson is shown."""
REGISTER_LATE = timedelta(hours=24)
"""How long after a meeting its register may be open: first the instructor is asked about it."""
STATEMENTS_REACH = timedelta(days=400)
"""How far back statements are compared with the register: a year of the books, and the month in
which it is closed.
"""
