"""One name a person, wherever it is read; other families read its first word."""

import pytest
from django.db import IntegrityError, transaction

from accounts.models import Student
from bookings.door import write
from bookings.operations.people import change_me
from tests import cast
from tests.cast import NOW
from tests.school.coming_in import come_in, invite

pytestmark = pytest.mark.django_db


def test_a_student_who_changes_their_name_has_it_everywhere():
    """The account's name is the student's: rosters and emails do not show an older one."""
    noor = cast.make_student("Noor Ashgrove")
    write(lambda: change_me(actor=noor.user, name="Nora Ash", now=NOW), now=NOW)
    noor = Student.objects.get(pk=noor.pk)
    assert (str(noor), noor.full_name, noor.first_name) == ("Nora Ash", "Nora Ash", "Nora")


def test_a_child_without_an_account_has_the_name_that_the_school_noted():
    """And by its first word for others."""
    posy = cast.make_minor("Posy Lindqvist-Reed")
    assert (posy.full_name, posy.first_name) == ("Posy Lindqvist-Reed", "Posy")


@pytest.mark.parametrize("blank", ["\u00a0", "\u2003", "\u3000"])
def test_a_first_name_ends_at_any_blank(blank):
    """A blank that does not break, as programs put between names, tells nobody a surname."""
    posy = cast.make_minor(f"Posy{blank}Lindqvist-Reed")
    assert posy.first_name == "Posy"


def test_a_student_who_comes_in_has_the_account_s_name_only():
    """What the school had noted is gone, so the two never differ."""
    dag, posy = cast.make_admin(), cast.make_minor("Posy Reed")
    user = come_in(invite(dag, student=posy))
    posy = Student.objects.get(pk=posy.pk)
    assert (posy.user, posy.own_name, posy.full_name) == (user, "", "Ida Quince")


@pytest.mark.parametrize("kind", ["with an account", "without"])
def test_two_names_or_none_are_refused_by_the_database(kind):
    """Typed past every operation."""
    student = cast.make_student() if kind == "with an account" else cast.make_minor()
    name = "Second Name" if kind == "with an account" else ""
    with pytest.raises(IntegrityError), transaction.atomic():
        Student.objects.filter(pk=student.pk).update(own_name=name)


def test_students_are_listed_by_the_one_name():
    """Those with an account and those without, in one order."""
    names = ["Ada Finch", "Bo Reed", "Cleo Marsh"]
    cast.make_student(names[2])
    cast.make_minor(names[1])
    cast.make_student(names[0])
    assert [str(student) for student in Student.objects.all()] == names
