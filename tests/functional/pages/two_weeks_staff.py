"""What instructors and the admin do on their pages."""

from tests.functional.pages.two_weeks_families import THEME
from tests.functional.pages.visitor import Visitor


def adds_group_meeting(dag: Visitor) -> None:
    dag.open("/")
    dag.follow("Meetings")
    dag.follow("Add a group meeting")
    where = {"What": "Group meeting", "With": "Ilse", "Theme": THEME, "Places": 2}
    said = dag.send("Add it", {**where, "On": "2027-03-12", "At": "18:00"})
    assert "0 of 2 places taken." in said


def wraps_up(teacher: Visitor, student: str, note: dict[str, object]) -> None:
    """From the row of Today: who came, the note, and its release."""
    first = student.split()[0]
    teacher.open("/")
    teacher.follow("Wrap up", under=student)
    teacher.send(f"Release to {first}…", {"Present": True, **note})
    assert f"{student}: wrapped up." in teacher.send(f"Release to {first}")


def goes_away(ilse: Visitor) -> None:
    """A whole day; the page shows what becomes of each lesson, and every email."""
    ilse.open("/")
    ilse.follow("Hours I teach")
    day = "2027-03-10"
    seen = ilse.send("Add days away", {"First day away": day, "Last day away": day})
    assert "Consultation: Posy" in seen
    assert "Private lesson: Marlo Vance" in seen
    assert "Nothing has changed yet, and nobody has been told." in seen
    assert "two meetings called off." in ilse.send("Do this and send the emails")


def needs(dag: Visitor) -> list[str]:
    """Whom the page Needs you now names."""
    dag.open("/")
    assert dag.at == "/needs/"
    return dag.links("^[A-Z][a-z]+ [A-Z][a-z]+$")


def marks_group_register(ilse: Visitor) -> None:
    """Everybody came but one, who gave no notice."""
    ilse.open("/")
    ilse.follow("Mark the register", under=THEME)
    said = ilse.send("All present", {"Teal Brennock, level 3": "absent, without notice"})
    assert "Register saved." in said


def issues_statement(dag: Visitor, instructor: str) -> str:
    """Of the two weeks, seen line by line before it is written."""
    dag.open("/")
    dag.follow("People")
    dag.follow("Statements of hours")
    dag.follow("Issue a statement")
    days = {"First day": "2027-03-01", "Last day": "2027-03-14"}
    dag.send("Show the lines", {"Instructor": instructor, **days})
    return dag.send("Issue this statement")


def account_of(dag: Visitor, student: str) -> str:
    dag.open("/")
    dag.follow("Terms")
    dag.follow("Accounts of Spring")
    return dag.follow(student)
