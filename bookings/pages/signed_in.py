"""Who is signed in, their family, and the student they act for."""

from typing import cast

from django.http import HttpRequest

from accounts.models import Student, User
from bookings import clock
from bookings.access import (
    access_student,
    access_taught_student,
    acts_as_school,
    require_oneself,
    student_among,
)
from bookings.domain.errors import Refused
from bookings.pages.parameters import read_id
from bookings.queries.families import AskedFor, Awaited, Family, family_of
from bookings.queries.roles import Roles, roles_of

_KEPT = "student"


def user_of(request: HttpRequest) -> User:
    """The user who is signed in. Only for views behind `login_required`."""
    return cast(User, request.user)


def family(user: User) -> list[Student]:
    """The students a person may switch between: themselves first, then their children by name."""
    return _family(user).students


def consents_missing(user: User) -> list[Awaited]:
    """Those of the family whose consent is missing."""
    return _family(user).awaited


def hours_asked(user: User) -> list[AskedFor]:
    """Those of the family for whom a plan still waits to hear which hours they can come."""
    return _family(user).asked


def _family(user: User) -> Family:
    """Read once a request, and kept on its user."""
    kept: Family | None = getattr(user, "_family", None)
    if kept is None:
        kept = family_of(user, now=clock.now()) if roles(user).has_family else Family([], [], [])
        user._family = kept  # type: ignore[attr-defined]
    return kept


def roles(user: User) -> Roles:
    """What a person is at the school. Read once a request, and kept on its user."""
    kept: Roles | None = getattr(user, "_roles", None)
    if kept is None:
        kept = roles_of(user)
        user._roles = kept  # type: ignore[attr-defined]
    return kept


def acting_student(request: HttpRequest) -> Student:
    """The student this page is about.

    The one named in the address or form, else the one named last, else the first of the family.
    """
    user = user_of(request)
    named = request.POST.get("student") or request.GET.get("student")
    if named:
        student = named_student(user, read_id(named))
        if request.session.get(_KEPT) != student.pk:
            request.session[_KEPT] = student.pk
        return student
    kept = request.session.get(_KEPT)
    if kept is not None:
        try:
            return named_student(user, kept)
        except Refused:
            del request.session[_KEPT]
    return next(iter(family(user)), None) or access_student(user, now=clock.now())


def named_student(user: User, student_id: int) -> Student:
    """One of the family by id; anybody for an admin."""
    if user.is_staff:
        return access_student(user, student_id, now=clock.now())
    return student_among(family(user), student_id)


def student_to_book(request: HttpRequest, instructor_id: int) -> Student:
    """The student for whom a lesson with that instructor is booked.

    As `acting_student` or, for an instructor who names one of their own students, that student.
    Refused: "not-found"; "not-allowed" for an instructor and somebody else's hours.
    """
    user, named = user_of(request), request.POST.get("student") or request.GET.get("student")
    if not named:
        return acting_student(request)
    student_id = read_id(named)
    if user.is_staff or any(one.pk == student_id for one in family(user)):
        return named_student(user, student_id)
    student, oneself = access_taught_student(user, student_id, now=clock.now())
    require_oneself(oneself, instructor_id)
    return student


def books_for_school(user: User, student: Student) -> bool:
    """Whether this person, who may act for the student, does so for the school."""
    return student not in family(user) and acts_as_school(user, student)
