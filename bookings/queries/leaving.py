"""What ends when somebody leaves, to be read before anybody decides."""

from dataclasses import dataclass, field
from datetime import datetime

from accounts.models import Guardianship, Instructor, Student, User
from bookings.domain.families import is_child
from bookings.models import Meeting
from bookings.queries.commitments import Ahead, ahead_of
from bookings.queries.guardians import has_guardian, left_alone


@dataclass(frozen=True, slots=True)
class Ends:
    """What students have ahead, and the meetings that an instructor teaches, by start.

    `regular` are the students who lose their regular instructor; nothing of theirs ends.
    """

    ahead: Ahead
    taught: list[Meeting]
    regular: list[Student] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.ahead or self.taught)


def ends_with_account(user: User, *, now: datetime) -> Ends:
    """What closing this account ends."""
    students = [student.pk for student in students_left_by(user, now=now)]
    teacher = Instructor.objects.teaching().filter(user=user).first()
    return Ends(ahead_of(students, now=now), _taught(teacher, now), _regular(teacher))


def ends_with_instructor(instructor: Instructor, *, now: datetime) -> Ends:
    """What dismissing this instructor ends: their meetings ahead, and whose regular instructor
    they are.
    """
    return Ends(ahead_of([], now=now), _taught(instructor, now), _regular(instructor))


def ends_with_student(student: Student, *, now: datetime) -> Ends:
    """What ends when this student leaves."""
    return Ends(ahead_of([student.pk], now=now), [])


def ends_with_guardian(guardianship: Guardianship, *, now: datetime) -> Ends:
    """What ends without this guardian: the things ahead of a child for whom nobody else answers."""
    alone = left_alone([guardianship.student], without=guardianship.guardian, now=now)
    return Ends(ahead_of([student.pk for student in alone], now=now), [])


def ends_with_consent(guardianship: Guardianship, *, now: datetime) -> Ends:
    """What ends without this consent: all that the minor has ahead, if it was the only one."""
    if not is_child(guardianship.student, now):
        return Ends(ahead_of([], now=now), [])
    return ends_with_guardian(guardianship, now=now)


def students_left_by(user: User, *, now: datetime) -> list[Student]:
    """The students who have nobody to act for them without this person.

    The person's own student, and children without another guardian.
    """
    own = Student.objects.select_related("user").filter(user=user)
    theirs = Guardianship.objects.answering().filter(guardian=user).student_ids()
    children = Student.objects.select_related("user").filter(pk__in=theirs)
    alone = left_alone(list(children), without=user, now=now)
    gone = [one for one in own if not (is_child(one, now) and has_guardian(one))]
    return list({student.pk: student for student in (*gone, *alone)}.values())


def _taught(instructor: Instructor | None, now: datetime) -> list[Meeting]:
    if instructor is None:
        return []
    found = Meeting.objects.not_called_off().taught_by(instructor).ahead(now)
    return list(found.select_related("offering", "instructor__user").order_by("starts_at", "pk"))


def _regular(instructor: Instructor | None) -> list[Student]:
    return list(instructor.regular_students.select_related("user")) if instructor else []
