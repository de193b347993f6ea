"""The people of the school, for admins."""

from collections.abc import Callable
from datetime import datetime
from enum import StrEnum
from typing import Any

from django.db.models import (
    BooleanField,
    Count,
    ExpressionWrapper,
    Prefetch,
    Q,
    QuerySet,
    Value,
)

from accounts.models import AddressChange, Guardianship, Instructor, Student, User, Welcome
from bookings.access import not_there, require_admin
from bookings.access.students import named_to_admins
from bookings.domain.addresses import known_as
from bookings.models import Teaches
from bookings.queries.guardians import is_minor_alone

PAGE_OF = 40
SHOWN_INVITATIONS = 20


class Group(StrEnum):
    """The lists of people, one shown at a time."""

    STUDENTS = "students"
    MINORS_ALONE = "minors-alone"
    INSTRUCTORS = "instructors"
    ADMINS = "admins"
    INVITED = "invited"
    LEFT = "left"
    DISMISSED = "dismissed"
    CLOSED = "closed"


def people_in(actor: User, group: Group, words: str, *, now: datetime) -> QuerySet[Any]:
    """Everybody of one list whom these words find, for admins: each word stands in a name or an
    email address. Refused("not-allowed") for anybody else.
    """
    require_admin(actor)
    rows, searched = _lists(now)[group]
    for word in words.split()[:6]:
        rows = rows.filter(searched(word))
    return rows


def open_invitations(
    actor: User, words: str, *, role: str | None, student: int | None, now: datetime
) -> QuerySet[Welcome]:
    """The invitations that still work, to one role and about one student where these are named:
    for admins, as `people_in`.
    """
    rows = people_in(actor, Group.INVITED, words, now=now)
    if role is not None:
        rows = rows.filter(**_ROLES[role])
    if student is not None:
        rows = rows.filter(Q(student=student) | Q(guardian_of=student))
    return rows


_ROLES: dict[str, dict[str, Any]] = {
    "admin": {"as_admin": True},
    "instructor": {"as_instructor": True},
    "student": {"student__isnull": False},
    "guardian": {"guardian_of__isnull": False},
}
"""What an invitation to each role bears."""


def counts(*, now: datetime) -> dict[Group, int]:
    """How many each list holds; one query."""
    counted = [
        rows.order_by().values(group=Value(str(group))).annotate(count=Count("pk"))
        for group, (rows, _) in _lists(now, bare=True).items()
    ]
    first, *others = [rows.values_list("group", "count") for rows in counted]
    found = dict(first.union(*others, all=True))
    return {group: found.get(str(group), 0) for group in Group}


def _lists(
    now: datetime, *, bare: bool = False
) -> dict[Group, tuple[QuerySet[Any], Callable[[str], Q]]]:
    """Each list with its search. A `bare` list is for counting: it joins nothing."""
    guardianships = Guardianship.objects.select_related("guardian")
    students, instructors = Student.objects.all(), Instructor.objects.all()
    invited = Welcome.objects.usable(now)
    if not bare:
        students = students.select_related("user").annotate(
            is_alone=ExpressionWrapper(is_minor_alone(now), BooleanField())
        )
        students = students.prefetch_related(Prefetch("guardianships", guardianships))
        instructors = instructors.select_related("user").prefetch_related(
            Prefetch("teaches", Teaches.objects.select_related("offering"))
        )
        instructors = instructors.order_by("user__name", "pk")
        invited = invited.select_related("student__user", "guardian_of__user")
    here = students.filter(is_active=True)
    return {
        Group.STUDENTS: (here, named_to_admins),
        Group.MINORS_ALONE: (here.filter(is_minor_alone(now)), named_to_admins),
        Group.INSTRUCTORS: (instructors.teaching(), holds("user__")),
        Group.ADMINS: (User.objects.filter(is_staff=True, is_active=True), holds("")),
        Group.INVITED: (invited, holds("")),
        Group.LEFT: (students.filter(is_active=False), named_to_admins),
        Group.DISMISSED: (
            instructors.filter(is_active=False, user__is_active=True),
            holds("user__"),
        ),
        Group.CLOSED: (User.objects.filter(is_active=False), holds("")),
    }


def holds(path: str) -> Callable[[str], Q]:
    """For rows whose account is at `path`: those with a word in the name or the address."""
    return lambda word: (
        Q(**{f"{path}name__icontains": word}) | Q(**{f"{path}email__icontains": word})
    )


def account_of_email(email: str) -> User | None:
    """The account with this address, for commands."""
    return User.objects.filter(email=known_as(email)).first()


def account_at(email: str) -> User | None:
    """The account with that address, closed or open: for an invitation, which names its own."""
    return User.objects.filter(email=email).first()


def one_account(actor: User, user_id: int) -> User:
    """An account, for an admin."""
    require_admin(actor)
    found = User.objects.filter(pk=user_id).first()
    if found is None:
        raise not_there()
    return found


def waiting_address(user: User, *, now: datetime) -> AddressChange | None:
    """The new address of this account that is still to be confirmed."""
    return AddressChange.objects.waiting(now).filter(user=user).first()


def one_teacher(actor: User, user_id: int) -> Instructor:
    """The instructor of that account, for an admin; a dismissed one too."""
    require_admin(actor)
    found = Instructor.objects.select_related("user").filter(user=user_id).first()
    if found is None:
        raise not_there()
    return found


def one_invitation(actor: User, welcome_id: int) -> Welcome:
    """An invitation, for an admin; open or not."""
    require_admin(actor)
    found = Welcome.objects.filter(pk=welcome_id).first()
    if found is None:
        raise not_there()
    return found


def one_student(actor: User, student_id: int) -> Student:
    """A student, for an admin; one who has left too."""
    require_admin(actor)
    rows = Student.objects.select_related("user").prefetch_related("guardianships__guardian")
    found = rows.filter(pk=student_id).first()
    if found is None:
        raise not_there()
    return found
