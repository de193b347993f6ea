"""Statements of hours on their pages: looked at, issued, corrected, printed, taken as a file."""

import csv
import io

import pytest

from bookings.domain.vocabulary import Attendance
from bookings.door import write
from bookings.models import Mark, Statement
from bookings.operations.register import mark_register
from bookings.pages.templatetags.formatting import hours_and_minutes, minutes_counted
from tests.cast import NOW, at, taught
from tests.functional.pages.school import School, as_user, text_of
from tests.school.statements import differing_statement, statement_of

pytestmark = pytest.mark.sql

FEBRUARY = {"first_on": "2027-02-01", "last_on": "2027-02-28"}


def lesson(school: School, start: str, attendance: Attendance | None) -> int:
    """A consultation of Ilse and Noor, marked so; its booking's id."""
    place = taught(school.ilse, school.noor, school.consultation, at(start))
    if attendance is not None:
        Mark.objects.create(booking=place, attendance=attendance, marked_at=NOW)
    return place.meeting_id


def version_in(page: str) -> str:
    return page.split('name="version" value="')[1].split('"')[0]


def test_an_admin_sees_every_line_before_a_statement_is_issued(school: School) -> None:
    """Looking writes nothing. The instructor then reads what was issued."""
    lesson(school, "2027-02-05T16:00Z", Attendance.PRESENT)
    lesson(school, "2027-02-12T16:00Z", Attendance.INSTRUCTOR_ABSENT)
    dag, asked = as_user(school.dag), {"instructor": school.ilse.pk, **FEBRUARY}
    page = text_of(dag.get("/statements/new/", asked))
    assert "Friday 5 February" in page
    assert "<b>25 minutes</b> would count." in page
    assert not Statement.objects.exists()
    sent = {**asked, "version": version_in(page)}
    answer = dag.post("/statements/new/", sent)
    issued = Statement.objects.get()
    assert answer["Location"] == f"/statements/{issued.pk}/"
    read = text_of(as_user(school.ilse.user).get(answer["Location"]))
    assert "the instructor was absent" in read
    assert "See what differs" not in read
    assert f"/statements/{issued.pk}/" in text_of(as_user(school.ilse.user).get("/statements/"))


def test_the_form_begins_with_the_month_before(school: School) -> None:
    """On the admin's clock it is March."""
    page = text_of(as_user(school.dag).get("/statements/new/", {"instructor": school.ilse.pk}))
    assert 'value="2027-02-01"' in page
    assert 'value="2027-02-28"' in page
    assert 'name="instructor" value="Ilse Quarrow, ilse@rowanmere.example"' in page


def test_an_open_register_is_shown_and_refuses(school: School) -> None:
    """The line leads to the meeting, there is no button, and sending anyway is refused."""
    open_meeting = lesson(school, "2027-02-05T16:00Z", None)
    dag, asked = as_user(school.dag), {"instructor": school.ilse.pk, **FEBRUARY}
    page = text_of(dag.get("/statements/new/", asked))
    assert f'<a href="/meetings/{open_meeting}/">Mark it' in page
    assert "Issue this statement" not in page
    answer = dag.post("/statements/new/", asked)
    assert (answer.status_code, "One register is still open." in text_of(answer)) == (409, True)


def test_an_empty_statement_is_neither_offered_nor_issued(school: School) -> None:
    """Nothing was held in February: the page says so, and sending anyway is refused."""
    dag, asked = as_user(school.dag), {"instructor": school.ilse.pk, **FEBRUARY}
    page = text_of(dag.get("/statements/new/", asked))
    assert "No lessons or meetings in this period." in page
    assert "Issue this statement" not in page
    assert "would count" not in page
    answer = dag.post("/statements/new/", asked)
    assert answer.status_code == 422
    assert "A statement of these days would be empty." in text_of(answer)
    assert not Statement.objects.exists()


@pytest.mark.parametrize(
    ("dates", "status", "said"),
    [
        ({"first_on": "2027-02-01", "last_on": "2027-03-01"}, 409, "These days are not over yet"),
        ({"first_on": "2027-02-02", "last_on": "2027-02-01"}, 422, "not before the first"),
        ({"first_on": "2025-01-01", "last_on": "2027-01-01"}, 422, "366 days at most"),
        ({"first_on": "soon", "last_on": "2027-02-01"}, 422, "Some fields need another look"),
    ],
)
def test_dates_that_cannot_be_stated_are_refused_and_stay_typed(
    school: School, dates: dict[str, str], status: int, said: str
) -> None:
    """What was typed is still in the form."""
    answer = as_user(school.dag).get("/statements/new/", {"instructor": school.ilse.pk, **dates})
    page = text_of(answer)
    assert (answer.status_code, said in page) == (status, True)
    assert f'value="{dates["last_on"]}"' in page


def test_dates_that_have_a_statement_are_refused(school: School) -> None:
    """One lesson never counts twice."""
    statement_of(school.ilse, school.dag)
    asked = {"instructor": school.ilse.pk, "first_on": "2026-01-31", "last_on": "2026-02-28"}
    answer = as_user(school.dag).post("/statements/new/", asked)
    assert answer.status_code == 409
    assert "The statement of 1 January 2026 to 31 January 2026" in text_of(answer)


def test_a_correction_is_shown_before_it_is_written(school: School) -> None:
    """The old line stays, is taken back, and the right one follows."""
    stated = differing_statement(school.ilse, school.noor, school.consultation, school.dag)
    dag, address = as_user(school.dag), f"/statements/{stated.pk}/"
    assert "1 meeting differs from this statement" in text_of(dag.get(address))
    assert "An admin adds a correction." in text_of(as_user(school.ilse.user).get(address))
    page = text_of(dag.get(f"{address}correct/"))
    assert "Taken back: taught" in page
    assert "\N{MINUS SIGN}25" in page
    assert "<b>25 minutes</b> would then count." in page
    answer = dag.post(f"{address}correct/", {"version": version_in(page)})
    assert answer["Location"] == address
    shown = text_of(dag.get(address))
    assert "Correction 2, 1 March 2027" in shown
    assert "See what differs" not in shown
    again = dag.post(f"{address}correct/", {"version": version_in(page)})
    assert again.status_code == 412
    assert "Nothing differs." in text_of(again)


def test_a_register_that_changes_meanwhile_is_shown_anew(school: School) -> None:
    """Only what was read is written."""
    stated = differing_statement(school.ilse, school.noor, school.consultation, school.dag)
    dag, address = as_user(school.dag), f"/statements/{stated.pk}/correct/"
    version = version_in(text_of(dag.get(address)))
    place = school.noor.bookings.get(starts_at=at("2027-01-18T16:00Z"))
    marks = {place.pk: Attendance.ABSENT_WITH_NOTICE}
    write(
        lambda: mark_register(actor=school.dag, meeting=place.meeting, marks=marks, now=NOW),
        now=NOW,
    )
    answer = dag.post(address, {"version": version})
    assert (answer.status_code, "missed with notice" in text_of(answer)) == (412, True)
    assert stated.corrections.count() == 1


def test_a_register_that_changes_after_the_look_is_shown_before_it_is_issued(
    school: School,
) -> None:
    """The lines that were shown are not those that would be written: 412, and the new ones."""
    lesson(school, "2027-02-05T16:00Z", Attendance.PRESENT)
    dag, asked = as_user(school.dag), {"instructor": school.ilse.pk, **FEBRUARY}
    version = version_in(text_of(dag.get("/statements/new/", asked)))
    Mark.objects.update(attendance=Attendance.INSTRUCTOR_ABSENT)
    answer = dag.post("/statements/new/", {**asked, "version": version})
    page = text_of(answer)
    assert (answer.status_code, "the instructor was absent" in page) == (412, True)
    assert not Statement.objects.exists()
    assert dag.post("/statements/new/", {**asked, "version": version_in(page)}).status_code == 302


def test_a_statement_is_taken_as_a_file(school: School) -> None:
    """One row a line, numbers as numbers, and no name of anybody."""
    stated = differing_statement(school.ilse, school.noor, school.consultation, school.dag)
    answer = as_user(school.ilse.user).get(f"/statements/{stated.pk}/csv/")
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert "statement-of-hours-2027-01-01-2027-01-31.csv" in answer["Content-Disposition"]
    rows = list(csv.DictReader(io.StringIO(text_of(answer))))
    assert [row["counted_minutes"] for row in rows] == ["25", "25", "-25", "25"]
    assert [row["total_minutes"] for row in rows] == ["25", "50", "25", "50"]
    assert (rows[2]["takes_back"], rows[2]["correction"], rows[3]["outcome"]) == (
        "yes",
        "1",
        "missed without notice",
    )
    assert (rows[0]["date"], rows[0]["start"]) == ("2027-01-11", "16:00")
    assert "Noor" not in text_of(answer)
    assert "Ilse" not in text_of(answer)


def test_an_admin_chooses_whose_statements_are_listed(school: School) -> None:
    """An instructor sees their own, whatever the address says."""
    own, others = statement_of(school.ilse, school.dag), statement_of(school.wren, school.dag)

    def listed(user: object, **asked: object) -> set[int]:
        page = text_of(as_user(user).get("/statements/", asked))  # type: ignore[arg-type]
        return {pk for pk in (own.pk, others.pk) if f"/statements/{pk}/" in page}

    assert listed(school.dag) == {own.pk, others.pk}
    assert listed(school.dag, instructor=school.wren.pk) == {others.pk}
    assert listed(school.ilse.user, instructor=school.wren.pk) == {own.pk}


def test_hours_i_teach_and_people_lead_to_the_statements(school: School) -> None:
    """An instructor finds theirs beside their hours, an admin all beside the people."""
    assert 'href="/statements/"' in text_of(as_user(school.dag).get("/people/"))
    assert 'href="/statements/"' in text_of(as_user(school.ilse.user).get("/hours/"))


def test_minutes_are_said_in_words() -> None:
    """Hours where there are any."""
    assert [hours_and_minutes(minutes) for minutes in (0, 1, 50, 60, 750)] == [
        "0 minutes",
        "1 minute",
        "50 minutes",
        "1 hour",
        "12 hours 30 minutes",
    ]
    assert minutes_counted(-50) == "\N{MINUS SIGN}50"
