"""Refusals as data: a stable code, an HTTP status and a sentence that says what to do next.

A rule and the database guard behind it refuse with the same code. A caller need not know which of
the two refused.
"""

from collections.abc import Mapping
from typing import Any

# code -> (HTTP status, title). The title of a code never changes (RFC 9457 section 3.1.3); the
# sentence may.
CODES: Mapping[str, tuple[int, str]] = {
    # The request cannot be read.
    "malformed": (400, "The request cannot be read"),
    "key-malformed": (400, "The Idempotency-Key is not a quoted string"),
    "not-signed-in": (401, "Sign in first"),
    "not-allowed": (403, "Not allowed for this role"),
    "not-found": (404, "Nothing here"),
    "method-not-allowed": (405, "This address does not accept that method"),
    "too-large": (413, "The request is too large"),
    "wrong-media-type": (415, "This media type is not accepted"),
    # The request can be read and can never be right.
    "invalid": (422, "Some fields need another look"),
    "unknown-zone": (422, "Unknown time zone"),
    "naive-time": (422, "The time lacks an offset"),
    "end-before-start": (422, "The end is not after the start"),
    "off-grid": (422, "Not a start time of this offering"),
    "clock-gap": (422, "That local time does not exist"),
    "clock-fold": (422, "That local time comes twice"),
    "control-characters": (422, "The text holds control characters"),
    "too-long": (422, "The text is too long"),
    "wrong-kind": (422, "This offering is not booked that way"),
    "not-taught": (422, "This instructor does not teach that offering at this level"),
    "calendar-unreadable": (422, "The calendar cannot be read"),
    "calendar-too-much": (422, "The calendar is too complex"),
    "calendar-address": (422, "That address cannot be used"),
    "webhook-address": (422, "That address cannot be told"),
    "calendar-unanswered": (422, "The address gave no calendar"),
    "key-reused": (422, "The same key came with another request"),
    # The request would be right at another time or in another state.
    "past": (409, "That time has passed"),
    "too-soon": (409, "Too soon"),
    "too-far": (409, "Too far ahead"),
    "outside-hours": (409, "Outside teaching hours"),
    "instructor-may-allow": (409, "Only the instructor can allow that time"),
    "taken": (409, "That time is taken"),
    "load-run": (409, "That time is taken"),
    "load-day": (409, "That time is taken"),
    "load-week": (409, "That time is taken"),
    "load-rest": (409, "That time is taken"),
    "own-clash": (409, "The student already has a lesson or meeting then"),
    "minor-hours": (409, "Too early or too late for a minor"),
    "players-chosen": (409, "The school chooses the players"),
    "other-level": (409, "For other levels"),
    "no-place": (409, "No place is left"),
    "allowance-used": (409, "No more can be booked at once"),
    "consent-missing": (409, "A guardian’s consent is missing"),
    "already-booked": (409, "Already booked"),
    "already-waiting": (409, "Already on the waiting list"),
    "not-waiting": (409, "Not on the waiting list"),
    "places-free": (409, "Places are free"),
    "offer-ended": (409, "The offer has ended"),
    "already-ended": (409, "Already ended"),
    "already-released": (409, "Already released"),
    "newer-assessment": (409, "A newer assessment has been released"),
    "other-author": (409, "Another instructor wrote the latest note"),
    "incomplete-note": (409, "The note is not complete"),
    "not-yet": (409, "Not yet"),
    "term-dates": (409, "Not every date of the term can be held"),
    "register-open": (409, "A register is still open"),
    "series-dates": (409, "Not every date of the series can be held"),
    "no-order": (409, "No order of players is possible"),
    "plan-outdated": (409, "The school has changed since this was planned"),
    "has-bookings": (409, "Bookings stand in the way"),
    "last-admin": (409, "The last admin has to stay"),
    "last-guardian": (409, "The last guardian has to be replaced first"),
    "notice-passed": (409, "The cancellation deadline has passed"),
    "owed-settled": (409, "The owed lesson has been used or settled"),
    "use-by-passed": (409, "After the use-by date"),
    "already-done": (409, "Already done"),
    "limit-reached": (409, "The limit has been reached"),
    "conflict": (409, "Something else changed at the same time"),
    "stale": (412, "Changed since you read it"),
    "version-needed": (428, "Say which version you are changing"),
    "too-many-requests": (429, "Too many requests"),
    # The fault is ours.
    "fault": (500, "Something went wrong here"),
    "busy": (503, "Busy, try again"),
}


LOAD_CODES = ("load-run", "load-day", "load-week", "load-rest")
"""The refusals of an instructor's load, in the order in which they are judged."""


class Refused(Exception):
    """One refusal: `code` from CODES, `detail` a sentence that says what to do, `data` plain values
    for the caller.

    Any layer from the domain up raises it. Only interfaces turn it into a page or a problem
    document (RFC 9457).
    """

    def __init__(self, code: str, detail: str, **data: Any) -> None:
        if code not in CODES:
            raise ValueError(f"unknown refusal code {code!r}")
        super().__init__(f"{code}: {detail}")
        self.code = code
        self.detail = detail
        self.data = data

    @property
    def status(self) -> int:
        """The HTTP status of this refusal."""
        return CODES[self.code][0]

    @property
    def title(self) -> str:
        """The short title, the same for every refusal with this code."""
        return CODES[self.code][1]
