"""The people of the school, for admins."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from accounts.models import Instructor, Student, User, Welcome
from bookings.access import require_admin
from bookings.domain.errors import Refused


@dataclass(frozen=True, slots=True)
class People:
    """People by role; those who have left; and those who are invited and have no account yet."""

    students: QuerySet[Student]
    instructors: QuerySet[Instructor]
    admins: QuerySet[User]
    invited: QuerySet[Welcome]
    left: QuerySet[Student]
    dismissed: QuerySet[Instructor]
    closed: QuerySet[User]


def everybody(actor: User, *, now: datetime) -> People:
    """The people of the school. Refused("not-allowed") for anybody but admins."""
    require_admin(actor)
    students = Student.objects.select_related("user").prefetch_related("guardianships__guardian")
    instructors = Instructor.objects.select_related("user").prefetch_related("teaches__offering")
    return People(
        students=students.filter(is_active=True),
        instructors=instructors.filter(is_active=True).order_by("user__name", "pk"),
        admins=User.objects.filter(is_staff=True, is_active=True),
        invited=Welcome.objects.filter(used_at__isnull=True, good_until__gt=now).select_related(
            "student__user", "guardian_of__user"
        ),
        left=students.filter(is_active=False),
        dismissed=instructors.filter(is_active=False, user__is_active=True),
        closed=User.objects.filter(is_active=False),
    )


def account_of_email(email: str) -> User | None:
    """The account with this address, for commands."""
    return User.objects.filter(email__iexact=email).first()


def one_account(actor: User, user_id: int) -> User:
    """An account, for an admin."""
    require_admin(actor)
    found = User.objects.filter(pk=user_id).first()
    if found is None:
        raise _nothing()
    return found


def one_teacher(actor: User, user_id: int) -> Instructor:
    """The instructor of that account, for an admin; a dismissed one too."""
    require_admin(actor)
    found = Instructor.objects.select_related("user").filter(user=user_id).first()
    if found is None:
        raise _nothing()
    return found


def one_invitation(actor: User, welcome_id: int) -> Welcome:
    """An invitation, for an admin; open or not."""
    require_admin(actor)
    found = Welcome.objects.filter(pk=welcome_id).first()
    if found is None:
        raise _nothing()
    return found


def one_student(actor: User, student_id: int) -> Student:
    """A student, for an admin; one who has left too."""
    require_admin(actor)
    rows = Student.objects.select_related("user").prefetch_related("guardianships__guardian")
    found = rows.filter(pk=student_id).first()
    if found is None:
        raise _nothing()
    return found


def _nothing() -> Refused:
    return Refused("not-found", "There is nothing at this address that you may see.")
