"""One person found by what an admin types of their name or address, for a form."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from accounts.models import Guardianship, Instructor, Student, User
from bookings.access.students import WORDS

MOST_FOUND = 20
MOST_SUGGESTED = 40
_NUMBER = re.compile(r", no\. (\d{1,18})$")
_ADDRESS = re.compile(r"(?:^|, )([^\s,]+@[^\s,]+)$")


class Whom(StrEnum):
    """Who can be picked."""

    STUDENT = "student"
    """Students who learn here."""
    INSTRUCTOR = "instructor"
    """Instructors who teach here."""
    TAUGHT = "taught"
    """Instructors who teach here, or did before."""
    ACCOUNT = "account"
    """Everybody with an open account."""


Person = Student | Instructor | User


@dataclass(frozen=True, slots=True)
class Found:
    """People who match, 20 at most, and whether there are more."""

    people: list[Any]
    has_more: bool

    @property
    def only(self) -> Any | None:
        """The one who is meant; None for nobody and for several."""
        return self.people[0] if len(self.people) == 1 else None


def label_of(person: Person) -> str:
    """How somebody stands in a list to pick from; `people_matching` finds them alone by it."""
    if isinstance(person, Student):
        return f"{person.full_name}, level {person.level}, no. {person.pk}"
    user = person.user if isinstance(person, Instructor) else person
    return f"{user.name}, {user.email}"


def people_matching(whom: Whom, typed: str) -> Found:
    """Who is meant by a label, an id, or words of a name or an address; nobody without a word.

    A name typed whole means that person, even where it begins longer names. At most two queries.
    """
    typed = typed.strip()
    rows, searched, address, name = _sources(whom)
    number = _NUMBER.search(typed) if whom is Whom.STUDENT else None
    if number or (typed.isascii() and typed.isdecimal() and len(typed) < 18):
        return _found(rows.filter(pk=int(number[1] if number else typed)))
    email = _ADDRESS.search(typed)
    if email:
        one = rows.filter(Q(**{address: email[1].lower()}))
        found = _found(one)
        if found.only is not None:
            return found
    words = typed.split()[:WORDS]
    if not words:
        return Found([], False)
    for word in words:
        rows = rows.filter(searched(word))
    found = _found(rows)
    whole = [one for one in found.people if name(one).casefold() == " ".join(words).casefold()]
    return Found(whole, False) if len(whole) == 1 and not found.has_more else found


def first_people(whom: Whom) -> list[Any]:
    """Those to suggest before anything is typed: instructors, 40 at most; no students."""
    if whom not in (Whom.INSTRUCTOR, Whom.TAUGHT):
        return []
    return list(_sources(whom)[0][:MOST_SUGGESTED])


def _found(rows: QuerySet[Any]) -> Found:
    people = list(rows[: MOST_FOUND + 1])
    return Found(people[:MOST_FOUND], len(people) > MOST_FOUND)


def _sources(
    whom: Whom,
) -> tuple[QuerySet[Any], Callable[[str], Q], str, Callable[[Any], str]]:
    """The rows, what finds a word in them, the lookup of the address, and the name of a row."""
    if whom is Whom.STUDENT:
        students = Student.objects.filter(is_active=True).select_related("user")
        return students, _of_student, "user__email", lambda student: str(student.full_name)
    if whom is Whom.ACCOUNT:
        accounts = User.objects.filter(is_active=True)
        return accounts, _holds(""), "email", lambda user: str(user.name)
    teachers: Any = Instructor.objects.all()
    if whom is Whom.INSTRUCTOR:
        teachers = teachers.teaching()
    rows = teachers.select_related("user", "week").order_by("user__name", "pk")
    return rows, _holds("user__"), "user__email", str


def _holds(path: str) -> Callable[[str], Q]:
    """A word within a name, or that begins an address: many addresses end alike."""
    return lambda word: (
        Q(**{f"{path}name__icontains": word}) | Q(**{f"{path}email__istartswith": word})
    )


def _of_student(word: str) -> Q:
    """A word of the student, or of a guardian of theirs."""
    guardians = Guardianship.objects.answering().filter(
        _holds("guardian__")(word), student=OuterRef("pk")
    )
    return Q(own_name__icontains=word) | _holds("user__")(word) | Q(Exists(guardians))
