"""The accounts of the school and what their people are here, for admins."""

import hashlib
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from accounts.models import Guardianship, User
from bookings.access import not_there, require_admin
from bookings.queries.people import holds

_ANSWERS = Exists(Guardianship.objects.answering().filter(guardian=OuterRef("pk")))
_HELD: dict[str, Q] = {
    "student": Q(student__is_active=True),
    "guardian": Q(is_guardian=True),
    "instructor": Q(instructor__is_active=True),
    "admin": Q(is_staff=True),
}
"""Who has each role."""


@dataclass(frozen=True, slots=True)
class Person:
    """An account with the roles of its person, and the ids under which they learn and teach."""

    user: User
    roles: list[str]
    student: int | None
    instructor: int | None

    @property
    def seen(self) -> str:
        """A digest of what an admin is shown of the person. It changes when any of that does."""
        user = self.user
        account = (user.email, user.name, user.zone, user.is_active)
        told = (*account, self.roles, self.student, self.instructor)
        return hashlib.sha256(repr(told).encode()).hexdigest()[:16]


def people_of_school(
    actor: User, words: str, *, role: str | None, is_active: bool
) -> QuerySet[User]:
    """The open accounts, or the closed ones, whom these words find, in one role where one is named.

    Each word stands in a name or an address. Refused("not-allowed") for anybody but an admin.
    """
    rows = _people(actor).filter(is_active=is_active)
    for word in words.split()[:6]:
        rows = rows.filter(holds("")(word))
    return rows if role is None else rows.filter(_HELD[role])


def one_person(actor: User, user_id: int) -> Person:
    """One account, open or closed. Refused: "not-allowed", "not-found"."""
    found = _people(actor).filter(pk=user_id).first()
    if found is None:
        raise not_there()
    return person_of(found)


def person_of(user: User) -> Person:
    """An account as these reads bring it."""
    learns: Any = getattr(user, "student", None)
    teaches: Any = getattr(user, "instructor", None)
    held = {
        "student": learns is not None and learns.is_active,
        "guardian": bool(user.is_guardian),  # type: ignore[attr-defined]  # annotated
        "instructor": teaches is not None and teaches.is_active,
        "admin": user.is_staff,
    }
    return Person(
        user=user,
        roles=[role for role, is_held in held.items() if is_held],
        student=learns.pk if learns else None,
        instructor=teaches.pk if teaches else None,
    )


def _people(actor: User) -> QuerySet[User]:
    require_admin(actor)
    rows = User.objects.select_related("student", "instructor")
    return rows.annotate(is_guardian=_ANSWERS)
