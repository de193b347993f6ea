"""The students for whom a person may act, and how a student is named to others."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from accounts.models import Guardianship, Student, User
from bookings.access.refusals import not_there
from bookings.domain.errors import Refused
from bookings.domain.families import is_answered_for, is_child

WORDS = 6
"""How many words of a search are heeded."""
_LATEST_CLOCK = timedelta(days=1)


def students_near(user: User) -> QuerySet[Student]:
    """This person, if a student, and all children of theirs, who may be grown by now."""
    # A union: with 100,000 students, an OR over a join would read every one of them.
    children = Guardianship.objects.answering().filter(guardian=user).student_ids()
    near = Student.objects.filter(user=user).order_by().values("pk").union(children)
    return Student.objects.filter(pk__in=near).select_related("user")


def own_students(
    user: User, *, now: datetime, near: Iterable[Student] | None = None
) -> list[Student]:
    """The students for whom a person acts now: themselves and the children for whom they answer.

    An admin's own role adds none. `near` are the `students_near` them, if the caller has read them.
    """
    return [
        student
        for student in (students_near(user) if near is None else near)
        if student.user_id == user.pk or is_answered_for(student, now)
    ]


def acts_for(
    user: User, student_id: int, *, now: datetime, own: Sequence[Student] | None = None
) -> bool:
    """Whether a person may book, move and cancel for this student now; an admin may for all."""
    if user.is_staff:
        return True
    students = own_students(user, now=now) if own is None else own
    return any(row.pk == student_id for row in students)


def name_for(reader: User, student: Student, now: datetime) -> str:
    """The student's name for a reader outside the family: only admins see a minor's surname."""
    if reader.is_staff or not is_child(student, now):
        return student.full_name
    return student.first_name


def names_in_a_room(students: Iterable[Student], now: datetime) -> dict[int, str]:
    """How the people of one meeting are named to each other, by id: first names where a minor is
    among them.
    """
    people = list(students)
    if any(is_child(student, now) for student in people):
        return {student.pk: student.first_name for student in people}
    return {student.pk: student.full_name for student in people}


def named_like(user: User, words: str, *, now: datetime) -> Q:
    """Students in whose name stands each of these words, as far as this person knows the name.

    Admins search names, email addresses and guardians; an instructor searches whole names of adults
    and first names of minors, so that no search tells a minor's surname.
    """
    found = Q()
    for word in words.split()[:WORDS]:
        found &= named_to_admins(word) if user.is_staff else _known_to_all(word, now.date())
    return found


def students_named(user: User, words: str, *, now: datetime) -> QuerySet[Student, Any]:
    """The ids of the students whom these words find for this person, to filter other rows by."""
    return Student.objects.filter(named_like(user, words, now=now)).order_by().values("pk")


def named_to_admins(word: str) -> Q:
    """Students who are found by this word: by their own name, their address, and those of their
    guardians.
    """
    guardians = Guardianship.objects.filter(
        Q(guardian__name__icontains=word) | Q(guardian__email__icontains=word),
        student=OuterRef("pk"),
    )
    return _named(word, "icontains") | Q(user__email__icontains=word) | Q(Exists(guardians))


def _known_to_all(word: str, today: date) -> Q:
    # The last clock to reach a date does so a day after UTC: until then they may be a minor.
    is_adult = Q(adult_on__isnull=True) | Q(adult_on__lte=today - _LATEST_CLOCK)
    return _named(word, "istartswith") | (is_adult & _named(word, "icontains"))


def _named(word: str, lookup: str) -> Q:
    return Q(**{f"own_name__{lookup}": word}) | Q(**{f"user__name__{lookup}": word})


def access_student(user: User, student_id: int | None = None, *, now: datetime) -> Student:
    """The student to act for: by id, or else oneself, or else the only child.

    Refused: "not-found", "not-allowed" for a person without students, "invalid" where a guardian of
    several students names none.
    """
    if user.is_staff and student_id is not None:
        found = Student.objects.select_related("user").filter(pk=student_id).first()
        if found is None:
            raise not_there()
        return found
    rows = own_students(user, now=now)
    if student_id is not None:
        return student_among(rows, student_id)
    oneself = next((row for row in rows if row.user_id == user.pk), None)
    if oneself is not None:
        return oneself
    if not rows:
        raise Refused(
            "not-allowed", "Only a student, a guardian or an admin can book; name the student."
        )
    if len(rows) > 1:
        raise Refused(
            "invalid", "You are a guardian of several students: say which one.", field="student"
        )
    return rows[0]


def student_among(rows: Iterable[Student], student_id: int) -> Student:
    """The one with that id of the students a person acts for; any other is not there."""
    named = next((row for row in rows if row.pk == student_id), None)
    if named is None:
        raise not_there()
    return named
