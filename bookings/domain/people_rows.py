"""Each row of a file of people, read into a student or an instructor, or told what is wrong."""

import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from bookings.domain.addresses import mail_address
from bookings.domain.ages import age_fault
from bookings.domain.csv_cells import runs
from bookings.domain.errors import Refused
from bookings.domain.names import name_key
from bookings.domain.people_cells import read_date, read_zone, seen, zone_meant
from bookings.domain.people_files import NEEDED_OF_STUDENTS, Column, Row, Sheet
from bookings.domain.zones import zone

STUDENT, INSTRUCTOR = "student", "instructor"
ADULT, MINOR = "adult", "minor"
LONGEST_NAME: Final = 120
_NAMES = {Column.NAME, Column.GUARDIAN, Column.SECOND_GUARDIAN}
_GUARDIANS = (
    (Column.GUARDIAN, Column.GUARDIAN_EMAIL),
    (Column.SECOND_GUARDIAN, Column.SECOND_GUARDIAN_EMAIL),
)


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong in one row, under which heading, and what to write instead."""

    row: int
    column: str
    detail: str


@dataclass(frozen=True, slots=True)
class Person:
    """A name and an address."""

    name: str
    email: str


@dataclass(frozen=True, slots=True)
class StudentRow:
    """A student. `email` is empty without an address; `adult_on` is None for an adult."""

    row: int
    name: str
    email: str
    level: int
    unit: int
    adult_on: date | None
    time_zone: str
    named_guardians: tuple[Person, ...]


@dataclass(frozen=True, slots=True)
class InstructorRow:
    """An instructor."""

    row: int
    name: str
    email: str


PersonRow = StudentRow | InstructorRow


def read_rows(
    sheet: Sheet, *, is_address: Callable[[str], bool], now: datetime
) -> tuple[list[PersonRow], list[Fault]]:
    """The rows without a fault, and the faults of all others, in the order of the file.

    `is_address` says whether a text is well formed as an email address. Refused("invalid") where
    the file has students and lacks a heading that they need.
    """
    found: list[PersonRow] = []
    faults: list[Fault] = []
    for row in sheet.rows:
        reading = _Reading(row, is_address, now)
        person = reading.person()
        if person is not None and not reading.faults:
            found.append(person)
        faults += reading.faults
    return found, faults


def missing_of_students(sheet: Sheet) -> list[Column]:
    """The headings that a file with students lacks."""
    has_students = any(
        row.cells.get(Column.ROLE, "").strip().casefold() == STUDENT for row in sheet.rows
    )
    missing = [column for column in NEEDED_OF_STUDENTS if column not in sheet.columns]
    return missing if has_students else []


class _Reading:
    """One row while it is read; it gathers the row's faults."""

    def __init__(self, row: Row, is_address: Callable[[str], bool], now: datetime) -> None:
        self._row, self._is_address, self._now = row, is_address, now
        self.faults: list[Fault] = []

    def person(self) -> PersonRow | None:
        """The person, as far as the row can be read."""
        if self._row.has_more:
            self._fault("", "More cells than headings. Put a text with a separator in quotes.")
        for column, cell in self._row.cells.items():
            self._check_text(column, cell)
        if self.faults:
            return None
        role = self._cell(Column.ROLE).casefold()
        if role == STUDENT:
            return self._student()
        if role == INSTRUCTOR:
            return self._instructor()
        self._fault(Column.ROLE, f"Write “student” or “instructor”.{seen(role)}")
        return None

    def _student(self) -> StudentRow:
        time_zone = self._zone()
        adult_on = self._comes_of_age(time_zone)
        is_minor = self._cell(Column.AGE).casefold() == MINOR
        email = self._email(Column.EMAIL, self._cell(Column.EMAIL))
        if is_minor and email:
            self._fault(
                Column.EMAIL,
                "Leave this empty for a minor. Invite them from their page once a guardian has "
                "joined.",
            )
        return StudentRow(
            self._row.number,
            self._name(Column.NAME),
            email,
            self._number(Column.LEVEL, 10, ""),
            self._number(Column.UNIT, 99, "1"),
            adult_on,
            time_zone,
            tuple(self._guardians(is_minor=is_minor)),
        )

    def _instructor(self) -> InstructorRow:
        for column in (*NEEDED_OF_STUDENTS, Column.UNIT, *_GUARDIANS[1]):
            if column is not Column.TIME_ZONE and self._cell(column):
                self._fault(column, "Leave this empty for an instructor.")
        email = self._cell(Column.EMAIL)
        if not email:
            self._fault(Column.EMAIL, "An instructor needs an address, where the invitation goes.")
        email = self._email(Column.EMAIL, email)
        return InstructorRow(self._row.number, self._name(Column.NAME), email)

    def _guardians(self, *, is_minor: bool) -> Iterator[Person]:
        addresses: list[str] = []
        for name_column, email_column in _GUARDIANS:
            name, typed = self._cell(name_column), self._cell(email_column)
            if not name and not typed:
                continue
            if not is_minor:
                self._fault(name_column, "Leave the guardians empty for an adult.")
                continue
            if not name:
                self._fault(name_column, "Write the name that belongs to this address.")
            if not typed:
                self._fault(
                    email_column, f"Write the address of {name}: the invitation goes there."
                )
            address = self._email(email_column, typed)
            if address and address in addresses:
                self._fault(email_column, "The two guardians need an address each.")
            addresses.append(address)
            yield Person(self._name(name_column) if name else "", address)
        if is_minor and not addresses:
            self._fault(
                Column.GUARDIAN,
                "A minor needs a guardian: write the guardian’s name, and their address under "
                f"“{Column.GUARDIAN_EMAIL}”.",
            )

    def _comes_of_age(self, time_zone: str) -> date | None:
        age, typed = self._cell(Column.AGE).casefold(), self._cell(Column.COMES_OF_AGE)
        if age not in (ADULT, MINOR):
            self._fault(Column.AGE, f"Write “adult” or “minor”.{seen(age)}")
            return None
        on = read_date(typed)
        if typed and on is None:
            self._fault(Column.COMES_OF_AGE, f"Write the date like 2034-06-01.{seen(typed)}")
            return None
        today = self._now.astimezone(zone(time_zone or "UTC")).date()
        wrong = age_fault(age == MINOR, on, today)
        if wrong:
            self._fault(Column.COMES_OF_AGE, wrong)
        return on if age == MINOR else None

    def _zone(self) -> str:
        typed = self._cell(Column.TIME_ZONE)
        name = read_zone(typed)
        if name is None:
            self._fault(
                Column.TIME_ZONE,
                f"Write a zone such as Europe/Dublin.{seen(typed)}{zone_meant(typed)}",
            )
        return name or ""

    def _number(self, column: Column, most: int, default: str) -> int:
        typed = self._cell(column) or default
        whole = typed.removesuffix(".0")
        if not (whole.isascii() and whole.isdecimal() and len(whole) < 4) or not (
            1 <= int(whole) <= most
        ):
            self._fault(column, f"Write a number from 1 to {most}.{seen(typed)}")
            return 1
        return int(whole)

    def _email(self, column: Column, typed: str) -> str:
        if not typed:
            return ""
        try:
            address = mail_address(typed)
        except Refused as refusal:
            self._fault(column, refusal.detail)
            return ""
        if not self._is_address(address):
            self._fault(column, f"Write one address, such as name@rowanmere.example.{seen(typed)}")
        return address

    def _name(self, column: Column) -> str:
        name = self._cell(column)
        if not name_key(name):
            self._fault(column, "Write a name.")
        return name

    def _cell(self, column: Column) -> str:
        return " ".join(self._row.cells.get(column, "").split())

    def _check_text(self, column: Column, cell: str) -> None:
        if any(unicodedata.category(sign) in ("Cc", "Zl", "Zp") for sign in cell):
            self._fault(column, "Write it in one line, without tabs or control characters.")
        elif runs(cell):
            self._fault(
                column,
                f"A spreadsheet would run this as a formula. Write it without “{cell.strip()[:1]}”"
                " at the beginning.",
            )
        elif column in _NAMES and len(cell.strip()) > LONGEST_NAME:
            self._fault(column, f"Write at most {LONGEST_NAME} characters.")

    def _fault(self, column: str, detail: str) -> None:
        self.faults.append(Fault(self._row.number, column, detail))
