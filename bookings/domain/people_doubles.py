"""Rows of a file of people that say one person twice, or give one address to two."""

from collections.abc import Sequence

from bookings.domain.names import name_key
from bookings.domain.people_files import Column
from bookings.domain.people_rows import Fault, InstructorRow, Person, PersonRow, StudentRow


def doubles(people: Sequence[PersonRow]) -> list[Fault]:
    """Rows that say the same person twice, and addresses that two names share."""
    faults = []
    first: dict[tuple[object, ...], int] = {}
    named: dict[str, tuple[int, str]] = {}
    for person in people:
        for key in _keys(person):
            if key in first:
                faults.append(
                    Fault(person.row, "", f"The same person as in row {first[key]}. Keep one row.")
                )
                break
        for key in _keys(person):
            first.setdefault(key, person.row)
        for column, one in addressed(person):
            row, name = named.setdefault(one.email, (person.row, one.name))
            if name_key(name) != name_key(one.name):
                faults.append(
                    Fault(
                        person.row,
                        column,
                        f"Row {row} gives this address to “{name}”. One address is one person: "
                        "write the same name, or another address.",
                    )
                )
    return faults


def _keys(person: PersonRow) -> list[tuple[object, ...]]:
    """By what a second row of the same person is known."""
    if isinstance(person, InstructorRow):
        return [("instructor", person.email)]
    if person.adult_on is None and person.email:
        return [("student", person.email)]
    return [("student", name_key(person.name), person.adult_on)]


def addressed(person: PersonRow) -> list[tuple[Column, Person]]:
    """Each address of a row, with the heading of its name and who is to read it."""
    found = [(Column.NAME, Person(person.name, person.email))] if person.email else []
    if isinstance(person, StudentRow):
        columns = (Column.GUARDIAN, Column.SECOND_GUARDIAN)
        found += list(zip(columns, person.named_guardians, strict=False))
    return found
