"""The instructor that a person is, and those whose hours they may change."""

from accounts.models import Instructor, InstructorQuerySet, User
from bookings.access.refusals import not_there
from bookings.domain.errors import Refused
from bookings.models import DaysAway, ExtraHours


def instructor_of(user: User) -> Instructor | None:
    """The instructor that this person is; None where they do not teach now."""
    return _with_week().teaching().filter(user=user).first()


def require_instructor(user: User) -> Instructor:
    """The instructor that this person is. Refused("not-allowed") for anybody else."""
    found = instructor_of(user)
    if found is None:
        raise Refused("not-allowed", "Only an instructor has a day of lessons to teach.")
    return found


def _with_week() -> InstructorQuerySet:
    return Instructor.objects.select_related("user", "week")


def is_now(user: User, instructor: Instructor) -> bool:
    """Whether this person is that instructor and teaches now."""
    return instructor.is_active and instructor.user_id == user.pk


def access_instructor(user: User, instructor_id: int | None = None) -> Instructor:
    """The instructor whose hours this person may change: themselves or, for an admin, anybody.

    Refused: "not-allowed" where none is named and this person does not teach, "not-found".
    """
    if user.is_staff and instructor_id is not None:
        found = _with_week().filter(pk=instructor_id).first()
    else:
        found = instructor_of(user)
        if found is not None and instructor_id is not None and found.pk != instructor_id:
            found = None
    if found is None:
        if instructor_id is None:
            raise Refused(
                "not-allowed",
                "Only an instructor has teaching hours; an admin names the instructor.",
            )
        raise not_there()
    return found


def access_extra_hours(user: User, extra_id: int) -> ExtraHours:
    """Extra hours that this person may take back. Refused("not-found")."""
    found = ExtraHours.objects.select_related("instructor__user").filter(pk=extra_id).first()
    if found is None or not (user.is_staff or is_now(user, found.instructor)):
        raise not_there()
    return found


def access_days_away(user: User, away_id: int) -> DaysAway:
    """Days away that this person may take back. Refused("not-found")."""
    found = DaysAway.objects.select_related("instructor__user").filter(pk=away_id).first()
    if found is None or not (user.is_staff or is_now(user, found.instructor)):
        raise not_there()
    return found
