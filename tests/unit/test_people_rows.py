"""Each row of a file of people: what is taken, and each fault with what to write instead."""

from datetime import UTC, date, datetime

import pytest

from bookings.domain.people_doubles import doubles
from bookings.domain.people_files import Column, read_sheet
from bookings.domain.people_rows import InstructorRow, Person, StudentRow, read_rows
from tests.school.people_files import ADULT, FAMILY, MINOR, SECOND, SIBLING, TEACHER, text_of

NOW = datetime(2027, 3, 1, 9, tzinfo=UTC)


def read(*rows: dict[str, str]) -> tuple[list[object], list[tuple[int, str, str]]]:
    """The people, and the faults of rows and of rows together."""
    sheet = read_sheet(text_of(*rows))
    people, faults = read_rows(sheet, is_address=lambda text: text.count("@") == 1, now=NOW)
    told = [*faults, *doubles(people)]
    return list(people), [(fault.row, fault.column, fault.detail) for fault in told]


def test_a_good_file_is_read_whole() -> None:
    """An adult, a minor with two guardians, a sibling, an instructor."""
    people, faults = read(*FAMILY)
    ines, otto = Person("Ines Fell", "ines@fell.example"), Person("Otto Fell", "otto@fell.example")
    sydney = "Australia/Sydney"
    assert faults == []
    assert people == [
        StudentRow(2, "Robin Marsh", "robin@marsh.example", 4, 2, None, "Europe/Dublin", ()),
        StudentRow(3, "Kit Fell", "", 2, 1, date(2034, 6, 1), sydney, (ines, otto)),
        StudentRow(4, "Wren Fell", "", 2, 1, date(2036, 9, 14), sydney, (ines,)),
        InstructorRow(5, "Tenzin Orlo", "tenzin@orlo.example"),
    ]


def test_cells_are_read_as_people_write_them() -> None:
    """Capitals and blanks around, another form of the date, an older zone, a number with .0."""
    typed = {
        **MINOR,
        "Role": " Student ",
        "Name": "  Kit   Fell ",
        "Level": "2.0",
        "Adult or minor": "MINOR",
        "18th birthday": "1 June 2034",
        "Time zone": "asia/calcutta",
        "Guardian email": "Ines@Fell.Example",
    }
    for zone in ("asia/kolkata", "Asia/Calcutta"):
        (kit,), faults = read({**typed, "Time zone": zone})
        assert faults == []
        assert isinstance(kit, StudentRow)
        assert (kit.name, kit.level, kit.adult_on) == ("Kit Fell", 2, date(2034, 6, 1))
        assert (kit.time_zone, kit.named_guardians[0].email) == (
            "Asia/Kolkata",
            "ines@fell.example",
        )


FAULTS: dict[str, tuple[dict[str, str], str, str]] = {
    "no role": ({**ADULT, "Role": ""}, "Role", "“student” or “instructor”"),
    "an admin": ({**ADULT, "Role": "admin"}, "Role", "It says “admin”"),
    "no name": ({**ADULT, "Name": " "}, "Name", "Write a name"),
    "a name that nobody sees": ({**ADULT, "Name": "\u200b"}, "Name", "Write a name"),
    "a long name": ({**ADULT, "Name": "x" * 121}, "Name", "at most 120"),
    "a name in two lines": ({**ADULT, "Name": "Robin\nMarsh"}, "Name", "one line"),
    "a control character": ({**ADULT, "Name": "Robin\x07"}, "Name", "one line"),
    "a formula": ({**ADULT, "Name": "=1+1"}, "Name", "formula"),
    "a plus": ({**ADULT, "Name": "+Robin"}, "Name", "without “+”"),
    "a minus": ({**ADULT, "Level": "-4"}, "Level", "formula"),
    "an at": ({**ADULT, "Email": "@robin"}, "Email", "formula"),
    "a formula after blanks": ({**ADULT, "Name": "  =1+1"}, "Name", "without “=”"),
    "no address at all": ({**ADULT, "Email": "robin"}, "Email", "one address"),
    "two addresses": ({**ADULT, "Email": "a@x.example; b@x.example"}, "Email", "one address"),
    "a long address": ({**ADULT, "Email": "x" * 250 + "@x.example"}, "Email", "at most 254"),
    "no level": ({**ADULT, "Level": ""}, "Level", "from 1 to 10. It is empty"),
    "a level below": ({**ADULT, "Level": "0"}, "Level", "from 1 to 10"),
    "a level above": ({**ADULT, "Level": "11"}, "Level", "It says “11”"),
    "half a level": ({**ADULT, "Level": "4.5"}, "Level", "from 1 to 10"),
    "a level in words": ({**ADULT, "Level": "four"}, "Level", "from 1 to 10"),
    "a level in other digits": ({**ADULT, "Level": "٤"}, "Level", "from 1 to 10"),
    "a unit above": ({**ADULT, "Unit": "100"}, "Unit", "from 1 to 99"),
    "no age": ({**ADULT, "Adult or minor": ""}, "Adult or minor", "“adult” or “minor”"),
    "another age": ({**ADULT, "Adult or minor": "17"}, "Adult or minor", "It says “17”"),
    "a minor without a date": ({**MINOR, "18th birthday": ""}, "18th birthday", "in the future"),
    "a minor who is grown": (
        {**MINOR, "18th birthday": "2027-03-01"}, "18th birthday", "in the future",
    ),
    "a minor not born yet": (
        {**MINOR, "18th birthday": "2045-03-02"}, "18th birthday", "more than 18 years ahead",
    ),
    "an adult who is none": (
        {**ADULT, "18th birthday": "2034-06-01"}, "18th birthday", "empty for an adult",
    ),
    "a date in numbers alone": (
        {**MINOR, "18th birthday": "06/01/2034"}, "18th birthday", "like 2034-06-01",
    ),
    "no such date": ({**MINOR, "18th birthday": "2034-02-30"}, "18th birthday", "2034-02-30"),
    "no zone": ({**ADULT, "Time zone": ""}, "Time zone", "It is empty"),
    "a city": ({**ADULT, "Time zone": "Dublin"}, "Time zone", "Did you mean Europe/Dublin?"),
    "no zone of ours": ({**ADULT, "Time zone": "Mars/Olympus"}, "Time zone", "Mars/Olympus"),
    "a fixed hour": ({**ADULT, "Time zone": "GMT+1"}, "Time zone", "such as Europe/Dublin"),
    "a minor alone": (
        {**MINOR, "Guardian": "", "Guardian email": ""}, "Guardian", "A minor needs a guardian",
    ),
    "a guardian without an address": (
        {**MINOR, "Guardian email": ""}, "Guardian email", "Write the address of Ines Fell",
    ),
    "an address without a guardian": ({**MINOR, "Guardian": ""}, "Guardian", "Write the name"),
    "one guardian twice": (
        {**MINOR, **SECOND, "Second guardian email": "INES@fell.example"},
        "Second guardian email", "an address each",
    ),
    "a guardian of an adult": (
        {**ADULT, "Guardian": "Ines", "Guardian email": "i@x.example"}, "Guardian", "for an adult",
    ),
    "a minor with an address": ({**MINOR, "Email": "kit@fell.example"}, "Email", "for a minor"),
    "an instructor without an address": ({**TEACHER, "Email": ""}, "Email", "needs an address"),
    "an instructor with a level": ({**TEACHER, "Level": "4"}, "Level", "for an instructor"),
}  # fmt: skip


@pytest.mark.parametrize("case", FAULTS)
def test_each_fault_is_told_with_row_heading_and_what_to_write(case: str) -> None:
    """One sentence beside the cell; the row gives no person."""
    row, column, told = FAULTS[case]
    people, faults = read(TEACHER if row["Role"] != "instructor" else ADULT, row)
    assert len(people) == 1
    where, heading, sentence = faults[0]
    assert (where, heading) == (3, column)
    assert told in sentence


def test_every_fault_of_a_row_is_told_at_once() -> None:
    """Nobody mends a file one fault at a time."""
    _, faults = read({**ADULT, "Level": "12", "Time zone": "Mars", "Email": "robin"})
    assert {column for _, column, _ in faults} == {"Level", "Time zone", "Email"}


DOUBLES: dict[str, tuple[list[dict[str, str]], str]] = {
    "an adult by address": ([ADULT, {**ADULT, "Email": "ROBIN@marsh.example"}], "as in row 2"),
    "a minor by name and date": ([MINOR, {**MINOR, "Name": "KIT  fell"}], "as in row 2"),
    "an adult by name alone": (
        [{**ADULT, "Email": ""}, {**ADULT, "Email": "", "Level": "7"}], "as in row 2",
    ),
    "an instructor": ([TEACHER, {**TEACHER, "Email": "Tenzin@Orlo.example"}], "as in row 2"),
    "one address for two names": (
        [MINOR, {**SIBLING, "Guardian": "Enis Fell"}], "Row 2 gives this address to “Ines Fell”",
    ),
    "letters as wide as a CJK letter": ([MINOR, {**MINOR, "Name": "Ｋｉｔ Fell"}], "as in row 2"),
    "a sign that nobody sees": ([MINOR, {**MINOR, "Name": "Kit\u200b Fell"}], "as in row 2"),
    "a domain in wide letters": (
        [ADULT, {**ADULT, "Email": "robin@ｍarsh.example"}], "as in row 2",
    ),
    "a student's address for a guardian": (
        [ADULT, {**MINOR, "Guardian email": "robin@marsh.example"}], "“Robin Marsh”",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", DOUBLES)
def test_who_comes_twice_is_told_with_the_first_row(case: str) -> None:
    """Capitals, blanks, and signs that look the same or like nothing make no other person."""
    rows, told = DOUBLES[case]
    _, faults = read(*rows)
    assert [row for row, _, _ in faults] == [3]
    assert told in faults[0][2]


def test_one_person_may_have_several_roles() -> None:
    """A guardian of two, who learns and teaches too, under one name and address."""
    ines = {"Name": "Ines Fell", "Email": "ines@fell.example"}
    assert read(MINOR, SIBLING, {**TEACHER, **ines}, {**ADULT, **ines})[1] == []


def test_two_children_of_one_name_are_two_people() -> None:
    """Told apart by their dates."""
    people, faults = read(MINOR, {**MINOR, "18th birthday": "2035-06-01"})
    assert (len(people), faults) == (2, [])
    assert Column.NAME == "Name"
