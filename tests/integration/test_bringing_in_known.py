"""A file of people that says otherwise than the school: told as a fault, nothing guessed."""

import unicodedata

import pytest

from accounts.models import Instructor, Student
from tests import cast
from tests.cast import NOW
from tests.school.bringing_in import faults, plan_of
from tests.school.people_files import ADULT, FAMILY, MINOR, TEACHER

pytestmark = pytest.mark.django_db
INES = "ines@fell.example"


def test_what_the_school_knows_otherwise_is_a_fault():
    """Each with the person that is meant and what to do; nothing is guessed."""
    cast.make_user("Somebody Else", email=INES)
    cast.make_user("Robin Marsh", email="robin@marsh.example", is_active=False)
    tenzin = cast.make_instructor("Tenzin Orlo", email="tenzin@orlo.example")
    Instructor.objects.filter(pk=tenzin.pk).update(is_active=False)
    told = faults(*FAMILY)
    assert [(row, column) for row, column, _ in told] == [
        (2, "Name"), (3, "Guardian"), (4, "Guardian"), (5, "Name"),
    ]  # fmt: skip
    for sentence, words in zip(
        [detail for *_, detail in told],
        ("is closed", "“Somebody Else”", "“Somebody Else”", "taught here before"),
        strict=True,
    ):
        assert words in sentence


def test_a_barred_guardian_is_a_fault():
    """An admin lifts the bar, or takes them out of the file."""
    kit = cast.make_minor("Kit Fell", guardian=cast.make_user("Ines Fell", email=INES))
    kit.guardianships.update(barred_at=NOW, barred_why="Told so by a court.")
    ((row, column, detail),) = faults(MINOR)
    assert (row, column) == (2, "Guardian")
    assert "is barred" in detail


def test_a_guardian_whose_account_is_a_minors_is_a_fault():
    """The student's own, or another's: nobody gives consent for themselves."""
    kit = cast.make_minor("Kit Fell")
    kit.user, kit.own_name = cast.make_user("Kit Fell", email="kit@fell.example"), ""
    kit.save()
    own = {"Guardian": "Kit Fell", "Guardian email": "kit@fell.example"}
    told = faults({**MINOR, **own}, {**MINOR, "Name": "Wren Fell", **own})
    assert [(row, column) for row, column, _ in told] == [(2, "Guardian"), (3, "Guardian")]
    assert "A guardian is an adult" in told[0][2]


def test_somebody_who_may_be_the_same_is_a_fault():
    """The same name and guardian with another date; an adult's name without an account."""
    cast.make_minor("Kit Fell", guardian=cast.make_user("Ines Fell", email=INES))
    Student.objects.create(own_name="Robin Marsh", level=4, own_time_zone="Europe/Dublin")
    told = faults(ADULT, {**MINOR, "18th birthday": "2034-01-06"})
    assert [(row, column) for row, column, _ in told] == [(2, "Email"), (3, "18th birthday")]
    assert "Their date is 2034-06-01" in told[1][2]


@pytest.mark.parametrize("form", ["NFC", "NFD"])
def test_a_name_that_the_school_stores_in_either_form_is_the_same(form):
    """Zoë in one letter or in two, whichever a keyboard wrote (Unicode, forms C and D)."""
    name = unicodedata.normalize(form, "Zoë Fell")
    cast.make_minor(name, guardian=cast.make_user(name, email=INES))
    row = {**MINOR, "Name": "Zoë Fell", "Guardian": "Zoë Fell"}
    assert faults(row) == []
    assert not plan_of(row).lines[0].is_new
    assert faults({**TEACHER, "Name": "Zoë Fell", "Email": INES}) == []
