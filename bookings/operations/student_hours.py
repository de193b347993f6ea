"""The hours that a student can come, as the family says them. Nobody is asked for a reason."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import Student, User
from bookings.domain.families import is_child
from bookings.domain.student_hours import Opening, WishedWindow, check_said
from bookings.models import StudentHours, StudentWeek
from bookings.operations.asked_hours import keep_answers
from bookings.operations.audit import record
from bookings.operations.locks import lock_students
from bookings.operations.versions import check_version


def say_hours(
    *,
    actor: User,
    student: Student,
    windows: Sequence[WishedWindow],
    school: Opening | None,
    version: int | None = None,
    now: datetime,
) -> StudentWeek:
    """Replaces what is said of the student's week, for `actor`, who acts for them.

    `windows` and `school` are on the student's clock; see SaidHours. When a minor says it, the
    usual hours of school and bedtime count beside it until a guardian or an admin does. Bookings
    stay as they are. It is the answer to every plan that asks the family and has not closed.
    Refused: "stale", and as `check_said`.
    """
    check_said(windows, school)
    locked = lock_students([student.pk])[student.pk]
    week, _ = StudentWeek.objects.get_or_create(student=locked)
    week.student = locked
    check_version(
        week,
        version,
        detail="These hours have changed since you read them. Read them again, then decide.",
    )
    week.school_opens, week.school_closes = school or (None, None)
    week.is_confirmed = not (locked.user_id == actor.pk and is_child(locked, now))
    week.version += 1
    week.changed_at = now
    week.save()
    _replace(week, windows)
    keep_answers(week, now=now)
    record(actor=actor, verb="said hours", thing=week, fields=["windows", "school"], now=now)
    return week


def _replace(week: StudentWeek, windows: Sequence[WishedWindow]) -> None:
    week.windows.all().delete()
    StudentHours.objects.bulk_create(
        StudentHours(
            week=week,
            weekday=window.weekday,
            opens=window.opens,
            closes=window.closes,
            wish=window.wish,
        )
        for window in windows
    )
