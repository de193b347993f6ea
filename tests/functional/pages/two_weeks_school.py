"""A school from an empty database, through its pages and emails alone."""

from dataclasses import dataclass

import pytest
from django.core.management import call_command

from tests.cast import PASSWORD
from tests.functional.pages.two_weeks import EMAIL, link_in, mail_to, work
from tests.functional.pages.visitor import Visitor
from tests.school.people_files import text_of

OFFERED = (
    ("Consultation", "Consultation: one-on-one, about obstacles and technique", 25),
    ("Private lesson", "Private lesson: one-on-one, also as a weekly place", 50),
    ("Group meeting", "Group meeting: many students on a theme", 60),
)
TEACHES = (
    ("Consultation", "Ilse"),
    ("Private lesson", "Ilse"),
    ("Group meeting", "Ilse"),
    ("Consultation", EMAIL.format("wren")),
)
ROOM = "https://rooms.rowanmere.example/"
DUBLIN, NEW_YORK = "Europe/Dublin", "America/New_York"
ADULT = {"Role": "student", "Level": "3", "Adult or minor": "adult", "Time zone": DUBLIN}
PEOPLE = (
    {"Role": "instructor", "Name": "Wren Halloway", "Email": EMAIL.format("wren")},
    {**ADULT, "Name": "Marlo Vance", "Email": EMAIL.format("marlo")},
    {**ADULT, "Name": "Teal Brennock", "Email": EMAIL.format("teal")},
    {**ADULT, "Name": "Noor Ashgrove", "Email": EMAIL.format("noor"), "Time zone": NEW_YORK},
    {
        **ADULT,
        "Name": "Posy Lindqvist",
        "Adult or minor": "minor",
        "18th birthday": "2036-05-02",
        "Guardian": "Hedda Lindqvist",
        "Guardian email": EMAIL.format("hedda"),
    },
)


@dataclass(frozen=True)
class People:
    """Everybody at their browser. Hedda is the guardian of Posy, who has no account."""

    dag: Visitor
    ilse: Visitor
    wren: Visitor
    marlo: Visitor
    teal: Visitor
    noor: Visitor
    hedda: Visitor


def set_up(monkeypatch: pytest.MonkeyPatch) -> People:
    """From the command that makes the first admin until nothing is missing."""
    dag = _first_admin(monkeypatch)
    assert "Still missing: 9." in dag.open("/")
    _rules_and_offerings(dag)
    _term(dag)
    _invite(dag)
    work()
    ilse, wren = _joins("ilse", "Dublin"), _joins("wren", "New York")
    marlo, teal = _joins("marlo", "Dublin"), _joins("teal", "Dublin")
    noor, hedda = _joins("noor", "New York"), _joins("hedda", "Dublin")
    _gives_consent(hedda)
    _say_who_teaches(dag)
    five = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday")
    _publishes_hours(ilse, ROOM + "ilse", dict.fromkeys(five, "14-20"))
    _publishes_hours(wren, ROOM + "{token}", dict.fromkeys(("Tuesday", "Thursday"), "10-16"))
    assert "Nothing is missing: lessons can be booked." in dag.open("/setting-up/")
    return People(dag, ilse, wren, marlo, teal, noor, hedda)


def _first_admin(monkeypatch: pytest.MonkeyPatch) -> Visitor:
    """As docs/operations.md says: `manage.py createsuperuser`, then the page to sign in."""
    monkeypatch.setenv("DJANGO_SUPERUSER_PASSWORD", PASSWORD)
    who = {"email": EMAIL.format("dag"), "name": "Dag Emberley", "time_zone": "Europe/Dublin"}
    call_command("createsuperuser", interactive=False, verbosity=0, **who)
    dag = Visitor()
    dag.sign_in(EMAIL.format("dag"))
    return dag


def _rules_and_offerings(dag: Visitor) -> None:
    """One consultation booked at once, the rest as the form has it; three offerings."""
    dag.follow("Studio policy")
    dag.follow("Write the first version")
    said = dag.send("Show what changes", {"Consultations booked at once": 1})
    assert "Consultations that a student can have booked at once: 1." in said
    dag.send("Save this version")
    for name, kind, minutes in OFFERED:
        dag.follow("Setting up")
        dag.follow("Offerings")
        dag.follow("Add an offering")
        dag.send("Add the offering", {"Name": name, "Kind": kind, "Minutes": minutes})


def _term(dag: Visitor) -> None:
    dag.follow("Setting up")
    dag.follow("Terms for: Term")
    days = {"First day": "2027-03-01", "Last day": "2027-03-28"}
    dag.send("Publish the term", {"Name": "Spring", **days, "Lessons promised": 4})


def _invite(dag: Visitor) -> None:
    """One instructor by hand; everybody else from a file, looked at first."""
    dag.follow("Setting up")
    dag.follow("Invite an instructor")
    ilse = {"Name": "Ilse Quarrow", "Email address": EMAIL.format("ilse")}
    dag.send("Send the invitation", {**ilse, "As": "an instructor"})
    dag.follow("Bring people in from a file")
    seen = dag.upload("Check the file", text_of(*PEOPLE).encode(), "CSV file")
    assert "Students to add 4 People to invite, one email each 5" in seen
    assert "Students added: 4. People invited: 5." in dag.send("Bring them in")


def _joins(name: str, clock: str) -> Visitor:
    """Somebody opens the link in their email and makes their account."""
    guest = Visitor()
    guest.open(link_in(mail_to(EMAIL.format(name), "Welcome"), "Choose a password"))
    said = {"Your clock": clock, "A password of your own": PASSWORD}
    assert "Your account is ready" in guest.send("Create my account", said)
    return guest


def _gives_consent(hedda: Visitor) -> None:
    hedda.follow("Read and give consent")
    agreed = {"I am Posy’s parent or guardian, and I agree.": True}
    assert "Your consent is on file." in hedda.send("Give consent", agreed)


def _say_who_teaches(dag: Visitor) -> None:
    """Names are typed in part; whoever teaches also has their levels chosen by the form."""
    for offering, name in TEACHES:
        dag.follow("Setting up")
        dag.follow("Who teaches what")
        dag.follow(f"Who teaches it: {offering}")
        assert f"teaches {offering}, levels 1 to 10." in dag.send("Save", {"Instructor": name})


def _publishes_hours(teacher: Visitor, room: str, days: dict[str, str]) -> None:
    """Their own week on their own clock, and the address of their room."""
    teacher.follow("Hours I teach")
    said: dict[str, object] = {**days}
    assert "These are the hours offered from now on." in teacher.send("Publish the week", said)
    assert "Room saved." in teacher.send("Save the room", {"Address to join at": room})
