"""The proof of an erasure searches every table: none passes because it was empty."""

import pytest

from accounts.models import Student
from bookings.queries.data_map import DATA_MAP, Erased, Table
from bookings.queries.exports import rows_of_person
from bookings.queries.places_audit import findings
from tests.school.privacy import PrivateSchool, dump, erase
from tests.school.rest_of_person import REST_OF_WORDS, write_rest

pytestmark = pytest.mark.django_db


def theirs(student: Student, accounts: list[int]) -> dict[str, int]:
    """How many rows of each table that goes whole are the person's, by the map."""
    return {
        table.model: rows_of_person(table, student.pk, accounts).count()
        for table in DATA_MAP
        if table.erased == Erased.DELETED
    }


def empty_now(table: Table, student: Student) -> dict[str, set[object]]:
    """What the columns that are emptied hold in the person's rows."""
    rows = rows_of_person(table, student.pk, [])
    return {name: set(rows.values_list(name, flat=True)) for name in table.emptied}


@pytest.mark.parametrize("who", ["noor", "posy"])
def test_each_table_that_goes_had_a_row_and_has_none(who: str) -> None:
    """Source: GDPR article 17. A new table that goes fails here until it has a row to lose."""
    school = PrivateSchool()
    student: Student = getattr(school, who)
    school.write_of(student)
    write_rest(school, student)
    accounts = [(student.user or school.hedda).pk]
    before = theirs(student, accounts)
    assert [model for model, rows in before.items() if rows == 0] == []
    kept = dump()
    assert [word for word in REST_OF_WORDS if word not in kept] == []
    erase(school, student)
    assert {model: rows for model, rows in theirs(student, accounts).items() if rows} == {}
    after = dump()
    assert [word for word in REST_OF_WORDS if word in after] == []
    for table in DATA_MAP:
        if table.erased == Erased.EMPTIED:
            assert all(values <= {"", b""} for values in empty_now(table, student).values())
    assert list(findings()) == []
