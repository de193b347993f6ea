"""What a service token may be used for: few scopes, by the nouns of the API."""

from collections.abc import Mapping
from datetime import timedelta
from enum import StrEnum
from typing import Final, Literal


class Scope(StrEnum):
    """A part of the API that a program may be let into. The values are stored."""

    READ_PEOPLE = "read-people"
    READ_CALENDAR = "read-calendar"
    WRITE_BOOKINGS = "write-bookings"
    READ_ACCOUNTS = "read-accounts"


SCOPE_WORDS: Mapping[Scope, str] = {
    Scope.READ_PEOPLE: "Read students and instructors: their names, levels, clocks and hours",
    Scope.READ_CALENDAR: "Read offerings, terms, hours, free times, meetings, bookings and rosters",
    Scope.WRITE_BOOKINGS: "Book, move and cancel for students, and answer offers for them",
    Scope.READ_ACCOUNTS: "Read term accounts, owed lessons and statements of hours",
}
PEOPLE: Final = "people"
"""Stands in place of a scope where no service token may be used."""
Access = Scope | Literal["people"]
NOBODYS = "A service token cannot do this: sign in as a person."
"""The refusal of a call that no scope opens."""
LONGEST_LIFE, MOST_TOKENS = timedelta(days=366), 50
"""How far ahead a token may expire, and how many may work at once."""
LONGEST_NAME = 60


def lacks(scope: Scope) -> str:
    """The refusal of a call for which a token needs this scope."""
    return f"This service token may not do this: it needs the scope {scope}."
