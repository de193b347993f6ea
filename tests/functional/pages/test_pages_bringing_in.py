"""People brought in from a file on the pages: chosen, looked at, mended, brought in."""

import csv
import io
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from accounts.models import Student, Welcome
from bookings.domain.people_files import MOST_BYTES, Column
from bookings.models import PeopleFile
from tests.functional.pages.school import School, as_user, text_of
from tests.school.people_files import ADULT, FAMILY, MINOR
from tests.school.people_files import text_of as csv_of

CHOOSE = "/people/bring-in/"


def choose(client: Client, content: bytes) -> object:
    return client.post(CHOOSE, {"file": SimpleUploadedFile("people.csv", content)})


def looked_at(client: Client, content: bytes) -> str:
    """The address of what this file would do."""
    answer = choose(client, content)
    assert answer.status_code == 302, text_of(answer)  # type: ignore[attr-defined]
    return str(answer.url)  # type: ignore[attr-defined]


def seen_on(page: str) -> dict[str, str]:
    return {"seen": re.findall(r'name="seen" value="(\w+)"', page)[0]}


def test_a_file_is_looked_at_first_and_then_brought_in(school: School) -> None:
    """Nothing happens before the button; the same file again finds everybody here."""
    dag = as_user(school.dag)
    page = looked_at(dag, csv_of(*FAMILY).encode())
    shown = text_of(dag.get(page))
    assert re.findall(r"<dd>(\d+)</dd>", shown) == ["3", "4", "0"]
    assert "invited at ines@fell.example" in shown
    assert not Student.objects.filter(own_name="Kit Fell").exists()
    done = text_of(dag.post(page, seen_on(shown), follow=True))
    assert "Students added: 3. People invited: 4." in done
    assert Student.objects.filter(own_name="Kit Fell").exists()
    again = text_of(dag.get(looked_at(dag, csv_of(*FAMILY).encode())))
    assert "Everybody in this file is here already." in again
    assert dag.get(page).status_code == 412


def test_faults_are_listed_with_row_and_heading_and_downloaded(school: School) -> None:
    """No button brings such a file in, and a POST past the page does not either."""
    dag = as_user(school.dag)
    page = looked_at(dag, csv_of(ADULT, {**MINOR, "Level": "12", "Time zone": "Sydney"}).encode())
    shown = text_of(dag.get(page))
    assert "2 faults in 1 row." in shown
    assert "<b>Row 3, Level.</b> Write a number from 1 to 10. It says “12”." in shown
    assert "Did you mean Australia/Sydney?" in shown
    assert "Bring them in" not in shown
    rows = list(csv.reader(io.StringIO(text_of(dag.get(f"{page}faults.csv")))))
    assert [row[:2] for row in rows[1:]] == [["3", "Time zone"], ["3", "Level"]]
    assert dag.post(page, {"seen": ""}).status_code == 412
    assert not Welcome.objects.exists()


def test_the_sample_can_be_brought_in_as_it_is(school: School) -> None:
    """What the page hands out has no fault, and every heading."""
    dag = as_user(school.dag)
    sample = dag.get(f"{CHOOSE}sample.csv")
    assert sample["Content-Disposition"] == 'attachment; filename="people.csv"'
    first = sample.content.decode("utf-8-sig").splitlines()[0]
    assert first.split(",") == list(Column)
    shown = text_of(dag.get(looked_at(dag, sample.content)))
    assert re.findall(r"<dd>(\d+)</dd>", shown) == ["3", "4", "0"]


BAD = {
    "nothing chosen": (None, "Choose a file."),
    "empty": (b"", "This file is empty."),
    "NUL bytes": (b"Role,Name,Email\nstudent,R\0,\n", "not plain text"),
    "a workbook": (b"PK\x03\x04", "workbook"),
    "other headings": (b"First name,Last name\nA,B\n", "Missing: “Role”, “Name”, “Email”"),
    "too large for the rule": (b"x" * (MOST_BYTES + 1), "larger than 2 MB"),
    "a student without headings": (b"Role,Name,Email\nstudent,R,\n", "“Level”"),
}


@pytest.mark.parametrize("case", BAD)
def test_a_file_that_cannot_be_read_is_refused_beside_its_field(school: School, case: str) -> None:
    """And is not kept."""
    content, told = BAD[case]
    dag = as_user(school.dag)
    answer = dag.post(CHOOSE, {}) if content is None else choose(dag, content)
    page = text_of(answer)
    assert answer.status_code == 422  # type: ignore[attr-defined]
    assert told in re.findall(r'id="id_file_error">([^<]*)<', page)[0]
    assert not PeopleFile.objects.exists()


def test_a_file_far_too_large_is_refused_before_it_is_read(school: School) -> None:
    """By its length alone (RFC 9110 section 15.5.14)."""
    answer = choose(as_user(school.dag), b"x" * (MOST_BYTES + 200_000))
    assert answer.status_code == 413  # type: ignore[attr-defined]


def test_names_of_a_guessed_encoding_are_shown_to_be_checked(school: School) -> None:
    """Windows-1252 has no mark by which it is known."""
    dag, zoe = as_user(school.dag), csv_of({**ADULT, "Name": "Zoë Marsh"})
    asked = "It was read as Windows-1252. Check these names: Zoë Marsh."
    assert asked in text_of(dag.get(looked_at(dag, zoe.encode("cp1252"))))
    assert asked not in text_of(dag.get(looked_at(dag, zoe.encode("utf-8"))))


def test_what_was_typed_in_a_file_runs_nowhere(school: School) -> None:
    """Neither on the page nor in the faults that are downloaded."""
    dag = as_user(school.dag)
    name = '<script>alert("x")</script>'
    page = looked_at(dag, csv_of({**ADULT, "Name": name}, {**ADULT, "Role": name}).encode())
    assert name not in text_of(dag.get(page))
    formulas = looked_at(dag, csv_of({**ADULT, "Time zone": "x =1+1"}).encode())
    rows = list(csv.reader(io.StringIO(text_of(dag.get(f"{formulas}faults.csv")))))
    assert not any(cell.startswith(("=", "+", "-", "@")) for row in rows for cell in row)


def test_a_file_of_another_admin_is_not_there(school: School) -> None:
    """Names of people who are not here yet are for who has them."""
    page = looked_at(as_user(school.dag), csv_of(*FAMILY).encode())
    other = school.wren.user
    other.is_staff = other.is_superuser = True
    other.save()
    assert as_user(other).get(page).status_code == 412
    assert as_user(school.ilse.user).get(page).status_code == 403


def test_a_file_is_looked_at_in_few_statements(
    school: School, django_assert_max_num_queries: object
) -> None:
    """However many people are in it."""
    dag = as_user(school.dag)
    rows = [
        {**ADULT, "Name": f"Adult {number}", "Email": f"a{number}@rowanmere.example"}
        for number in range(300)
    ]
    page = looked_at(dag, csv_of(*rows).encode())
    with django_assert_max_num_queries(12):  # type: ignore[operator]
        shown = text_of(dag.get(page))
    assert "The first 200 of 300 rows are listed." in shown
