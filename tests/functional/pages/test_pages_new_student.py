"""A student added on one form together with those who are invited for them."""

import re

import pytest
from django.test import Client

from accounts.models import Student, Welcome
from bookings.models import AuditRow, OutboxMessage
from tests.cast import PASSWORD, make_user
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.welcome import secret_of

NEW = "/people/students/new/"
ADULT = {
    "name": "Robin Marsh",
    "level": "4",
    "unit": "1",
    "age": "adult",
    "adult_on": "",
    "time_zone": "Europe/Dublin",
}
MINOR = {**ADULT, "name": "Kit Fell", "age": "minor", "adult_on": "2034-06-01"}
INES = {"guardian_1_name": "Ines Fell", "guardian_1_email": "Ines@fell.example"}
OTTO = {"guardian_2_name": "Otto Fell", "guardian_2_email": "otto@fell.example"}


def invited() -> list[tuple[str, bool, bool]]:
    """Who is invited by email, as a student or as a guardian."""
    rows = Welcome.objects.order_by("pk")
    assert OutboxMessage.objects.count() == len(rows)
    return [(row.email, row.student is not None, row.guardian_of is not None) for row in rows]


def added(school: School, **typed: str) -> Student:
    answer = as_user(school.dag).post(NEW, typed)
    assert answer.status_code == 302, text_of(answer)
    return Student.objects.latest("pk")


def test_an_adult_is_added_with_an_invitation_or_without(school: School) -> None:
    """The page says what has been done."""
    robin = added(school, **ADULT, email="robin@marsh.example")
    assert (robin.full_name, robin.adult_on) == ("Robin Marsh", None)
    assert invited() == [("robin@marsh.example", True, False)]
    added(school, **{**ADULT, "name": "Ada Fenn"})
    assert len(invited()) == 1


def test_a_minor_is_added_with_two_guardians_who_join(school: School) -> None:
    """One who is new and one who is here, picked by name; each by an email of their own."""
    kit = added(school, **MINOR, **INES, guardian_2="hedda")
    assert invited() == [
        ("ines@fell.example", False, True),
        ("hedda@rowanmere.example", False, True),
    ]
    assert Client().post(secret_of("welcome")).status_code == 302
    (row,) = kit.guardianships.all()
    assert (row.guardian, row.consent_at) == (school.hedda, None)


def test_a_guardian_who_is_new_makes_their_account(school: School) -> None:
    """By the link, as with an invitation from the page People."""
    kit = added(school, **MINOR, **INES)
    joined = {"name": "Ines Fell", "time_zone": "Europe/Dublin", "password": PASSWORD}
    assert Client().post(secret_of("welcome"), joined).status_code == 302
    assert kit.guardianships.get().guardian.email == "ines@fell.example"


BAD: dict[str, tuple[dict[str, str], str, str]] = {
    "no name": ({**ADULT, "name": ""}, "name", "cannot be left empty"),
    "a level above": ({**ADULT, "level": "11"}, "level", "10"),
    "no zone of ours": ({**ADULT, "time_zone": "Mars/Olympus"}, "time_zone", "from the list"),
    "no clock": ({**ADULT, "time_zone": ""}, "time_zone", "cannot be left empty"),
    "no address": ({**ADULT, "email": "robin"}, "email", "email address"),
    "a minor's address": ({**MINOR, "email": "kit@fell.example"}, "email", "for a minor"),
    "a minor who is grown": ({**MINOR, "adult_on": "2027-03-01"}, "adult_on", "in the future"),
    "a minor not born yet": ({**MINOR, "adult_on": "2045-03-02"}, "adult_on", "18 years ahead"),
    "an adult's guardian": ({**ADULT, **INES}, "guardian_1_email", "no guardian"),
    "an adult's guardian who is here": (
        {**ADULT, "guardian_1": "hedda"}, "guardian_1", "no guardian",
    ),
    "a name alone": ({**MINOR, "guardian_1_name": "Ines"}, "guardian_1_email", "address of Ines"),
    "an address alone": (
        {**MINOR, "guardian_1_email": "i@fell.example"}, "guardian_1_name", "Enter the name",
    ),
    "no such guardian": ({**MINOR, "guardian_1": "zzz"}, "guardian_1", "Nobody matches"),
    "somebody here and new": ({**MINOR, **INES, "guardian_1": "hedda"}, "guardian_1", "not both"),
    "one guardian twice": (
        {**MINOR, **INES, "guardian_2_name": "I", "guardian_2_email": "ines@fell.example"},
        "guardian_2_email", "an address each",
    ),
    "somebody else's address": (
        {**MINOR, **INES, "guardian_1_email": "hedda@rowanmere.example"},
        "guardian_1_email", "“Hedda Lindqvist-Reed”",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_a_refused_form_says_why_and_keeps_what_was_typed(school: School, case: str) -> None:
    """Beside the field; nobody is added or invited."""
    typed, field, told = BAD[case]
    students = Student.objects.count()
    answer = as_user(school.dag).post(NEW, typed)
    page = text_of(answer)
    assert answer.status_code == 422
    assert told in re.findall(rf'id="id_{field}_error">([^<]*)<', page)[0]
    for name, value in typed.items():
        if value and name not in ("age", "time_zone", "guardian_1"):
            assert re.search(rf'name="{name}" value="{re.escape(value)}"', page), name
    assert (Student.objects.count(), Welcome.objects.count()) == (students, 0)
    assert not AuditRow.objects.exists()


@pytest.mark.parametrize(
    "typed", [ADULT, {**ADULT, "email": "robin@marsh.example"}, {**MINOR, **INES}], ids=range(3)
)
def test_a_form_that_is_sent_twice_adds_one_student(school: School, typed: dict[str, str]) -> None:
    """By a finger that presses twice, or by two admins: nobody is added or invited again."""
    added(school, **typed)
    before = len(invited())
    answer = as_user(school.dag).post(NEW, {**typed, "name": typed["name"].upper()})
    assert answer.status_code == 422
    assert "already" in text_of(answer)
    assert Student.objects.filter(own_name=typed["name"]).count() == 1
    assert len(invited()) == before


def test_another_person_of_the_name_is_added(school: School) -> None:
    """An adult by an address of their own, and a minor by another 18th birthday."""
    for typed in (ADULT, {**ADULT, "email": "robin@marsh.example"}, {**MINOR, **INES}):
        added(school, **typed)
    added(school, **{**MINOR, **INES, "adult_on": "2035-06-01"})
    assert Student.objects.filter(own_name__in=("Robin Marsh", "Kit Fell")).count() == 4


def test_several_who_match_are_listed_for_each_guardian(school: School) -> None:
    """And the one who is ticked is invited."""
    other = make_user("Hedda Marsh", email="hedda@marsh.example")
    typed = {**MINOR, "guardian_1": "hedda"}
    page = text_of(as_user(school.dag).post(NEW, typed))
    assert re.findall(r'name="guardian_1-ticked" value="\d+"> ([^<]+)<', page) == [
        "Hedda Lindqvist-Reed, hedda@rowanmere.example",
        "Hedda Marsh, hedda@marsh.example",
    ]
    ticked = {"guardian_1-ticked": str(other.pk), "guardian_1-among": "hedda"}
    added(school, **typed, **ticked)
    assert invited() == [("hedda@marsh.example", False, True)]


def test_a_closed_account_is_not_invited(school: School) -> None:
    """The whole form is refused, with what to do."""
    make_user("Ines Fell", email="ines@fell.example", is_active=False)
    answer = as_user(school.dag).post(NEW, {**MINOR, **INES})
    assert answer.status_code == 403
    assert "is closed: open it again" in text_of(answer)
    assert 'value="Ines Fell"' in text_of(answer)
    assert not Student.objects.filter(own_name="Kit Fell").exists()
