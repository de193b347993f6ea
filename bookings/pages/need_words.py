"""What needs an admin, in words, and where each thing is dealt with."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.urls import reverse

from bookings.domain.email_troubles import IN_WORDS, Trouble
from bookings.domain.needs import Need
from bookings.domain.vocabulary import PrivacyKind
from bookings.pages.templatetags.formatting import day_and_time, long_date, weekday_and_day
from bookings.queries.needs_rows import NeedRow


@dataclass(frozen=True, slots=True)
class Words:
    """What a kind is called, its noun for counting, the page of one, and that of all.

    `all_at` is the page that lists all with their acts; empty where there is only the plain list.
    """

    title: str
    noun: str
    page: str
    says: Callable[[NeedRow, str], str]
    all_at: str = ""
    anchor: str = ""


def _at(row: NeedRow, here: str) -> str:
    return day_and_time(row.at, here) if row.at else ""


def _taught_at(row: NeedRow, here: str) -> str:
    return f"with {row.about}, {_at(row, here)}"


def _on(row: NeedRow) -> str:
    return long_date(row.on) if row.on else ""


def _day(row: NeedRow, here: str) -> str:
    return weekday_and_day(row.at, here) if row.at else ""


DATA_ASKED: Mapping[str, str] = {
    PrivacyKind.ERASURE: "erasure",
    PrivacyKind.ACCESS: "access export",
}

STOPPED: Mapping[str, str] = {
    "gone": "it wants nothing more",
    "given-up": "nothing reached it for a day",
}

WORDS: Mapping[Need, Words] = {
    Need.CONSENT: Words(
        "Consent is missing", "student", "student", lambda row, here: f"booked for {_at(row, here)}"
    ),
    Need.CLASH: Words("Meetings with a clash", "meeting", "meeting", _taught_at),
    Need.COVER: Words(
        "Substitutes who have not answered",
        "question",
        "plan",
        lambda row, here: f"asked to cover {row.about}, {_at(row, here)}",
    ),
    Need.MOVE_REQUEST: Words(
        "Requests to move",
        "request",
        "move-requests",
        lambda row, here: f"lesson with {row.about}, asked on {_day(row, here)}",
        all_at="move-requests",
        anchor="request",
    ),
    Need.PROPOSAL: Words(
        "Proposed times that lapse soon",
        "proposal",
        "answer-times",
        lambda row, here: f"proposed by {row.about}, answer by {_at(row, here)}",
    ),
    Need.EXCHANGE: Words(
        "Exchanges that lapse soon",
        "exchange",
        "plan",
        lambda row, here: f"answer by {_at(row, here)}",
    ),
    Need.OFFER: Words(
        "Offered places that lapse today",
        "place",
        "meeting",
        lambda row, here: f"{row.about}, answer by {_at(row, here)}",
    ),
    Need.MINIMUM: Words(
        "Meetings below their minimum",
        "meeting",
        "meeting",
        lambda row, here: f"with {row.about}, decided on {_at(row, here)}",
    ),
    Need.REGISTER: Words("Registers not marked", "meeting", "meeting", _taught_at),
    Need.OWED: Words(
        "Owed lessons that lapse soon",
        "lesson",
        "owed-lesson",
        lambda row, here: f"{row.about}, use by {_on(row)}",
    ),
    Need.STATEMENT: Words(
        "Statements that differ from the register",
        "statement",
        "correct-statement",
        lambda row, here: f"from {_on(row)}",
    ),
    Need.EMAIL: Words(
        "Emails that could not be delivered",
        "email",
        "account",
        lambda row, here: f"{row.about}, {_day(row, here)}",
    ),
    Need.WEBHOOK: Words(
        "Programs that no longer get messages",
        "program",
        "webhook",
        lambda row, here: f"stopped on {_day(row, here)}: {STOPPED[row.about]}",
    ),
    Need.ADDRESS: Words(
        "Addresses that emails do not reach",
        "address",
        "email-trouble",
        lambda row, here: f"since {_day(row, here)}: {IN_WORDS[Trouble(row.about)]}",
    ),
    Need.REVIEW: Words(
        "Students due a review",
        "student",
        "student",
        lambda row, here: row.about,
        all_at="due-a-review",
    ),
    Need.DATA_REQUEST: Words(
        "Requests about data that wait for approval",
        "request",
        "own-data",
        lambda row, here: f"{DATA_ASKED[row.about]}, asked on {_day(row, here)}",
    ),
    Need.SECOND_FACTOR: Words(
        "Accounts without a second factor", "account", "account", lambda row, here: row.about
    ),
}


def page_of(row: NeedRow) -> str:
    """Where this one is dealt with."""
    words = WORDS[row.need]
    if words.anchor:
        return f"{reverse(words.page)}#{words.anchor}-{row.id}"
    return reverse(words.page, args=[row.id])


def page_of_all(need: Need) -> str:
    """Where all of a kind are listed."""
    all_at = WORDS[need].all_at
    return reverse(all_at) if all_at else reverse("needs-of", args=[need.value])
