"""Asking the families of a group for their hours, by a date: asked, answered, closed."""

from collections.abc import Iterable
from datetime import date, datetime

from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.local_days import midnight
from bookings.models import AskedHours, Plan, StudentWeek
from bookings.operations.audit import record
from bookings.operations.locks import lock_students
from bookings.operations.plan_state import solve_again
from bookings.queries.planning.asked_hours import kept_week
from bookings.queries.planning.students import weeks_of


def ask_hours(plan: Plan, *, now: datetime) -> None:
    """Asks each member's family which hours they can come, in one email a reader.

    What stands counts until they say something else. Refused: "past", and "invalid" for a time
    after the first day of the plan.
    """
    if plan.answer_by is None:
        return
    _check_answer_by(plan.answer_by, date.fromisoformat(plan.asked["first_on"]), now)
    students = lock_students(plan.asked["students"])
    weeks = weeks_of(students)
    asked = AskedHours.objects.bulk_create(
        AskedHours(plan=plan, student=student, said=kept_week(weeks[pk]))
        for pk, student in sorted(students.items())
    )
    outbox.enqueue(notices.hours_asked(asked, now=now), now=now)


def _check_answer_by(answer_by: datetime, first_on: date, now: datetime) -> None:
    if answer_by <= now:
        raise Refused("past", "Choose a time to answer that lies ahead.", field="answer_by")
    if answer_by >= midnight(first_on, "UTC"):
        raise Refused(
            "invalid", "Answers have to close before the first day of the plan.", field="answer_by"
        )


def keep_answers(week: StudentWeek, *, now: datetime) -> None:
    """Keeps what was just said of a locked student's week for every plan that still asks for it.

    A minor's own words are kept and are no answer: that is a guardian's. Locking a plan after a
    student is safe: whoever adopts one locks it first, but a plan that is open to answers cannot be
    adopted.
    """
    asking = Plan.objects.asking().filter(
        asked_hours__student=week.student_id, answer_by__gt=now, closed_at__isnull=True
    )
    ids = list(asking.order_by("pk").values_list("pk", flat=True))
    locked = Plan.objects.filter(pk__in=ids, closed_at__isnull=True).order_by("pk")
    rows = AskedHours.objects.filter(
        plan__in=list(locked.select_for_update(no_key=True)), student=week.student_id
    )
    for row in rows:
        row.said = kept_week(week)
        row.answered_at = now if week.is_confirmed else row.answered_at
        row.save(update_fields=["said", "answered_at"])


def close_answers(*, now: datetime) -> int:
    """Closes the answers of all plans whose time is over, and has each solved again by what was
    said until then. Returns how many.
    """
    return sum(_close(plan, now) for plan in _locked(Plan.objects.to_close(now)))


def _locked(plans: Iterable[Plan]) -> Iterable[Plan]:
    ids = [plan.pk for plan in plans]
    return Plan.objects.filter(pk__in=ids).order_by("pk").select_for_update(no_key=True)


def _close(plan: Plan, now: datetime) -> bool:
    if plan.closed_at is not None or plan.ended_at is not None:
        return False
    plan.closed_at = now
    solve_again(plan)
    record(actor=None, verb="closed answers", thing=plan, fields=["closed_at"], now=now)
    return True


def check_answers_closed(plan: Plan) -> None:
    """Refused("not-yet") while the plan is open to families' answers."""
    if plan.is_open:
        raise Refused(
            "not-yet",
            "Families can still answer. Adopt this plan once its answers have closed.",
        )
