"""Who is signed in, their family, and the student they act for."""

from typing import cast

from django.http import HttpRequest

from accounts.models import Student, User
from bookings import clock
from bookings.access import access_student, student_among
from bookings.domain.errors import Refused
from bookings.pages.parameters import read_id
from bookings.queries.families import Awaited, Family, family_of
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


def _family(user: User) -> Family:
    """Read once a request, and kept on its user."""
    kept: Family | None = getattr(user, "_family", None)
    if kept is None:
        kept = family_of(user, now=clock.now()) if roles(user).has_family else Family([], [])
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
