"""Practice: open the plan, tick an item for a day, and take a tick back."""

from datetime import date, datetime

from accounts.models import Student, User
from bookings.access import access_practising
from bookings.domain.errors import Refused
from bookings.domain.practising import check_day
from bookings.models import Assessment, AssessmentReading, PracticeTick
from bookings.operations.audit import record
from bookings.operations.locks import lock_students
from bookings.operations.reading_notes import log_reading
from bookings.queries.practice import Practice, given_on, latest_plan, practice_of, today_of


def open_practice(*, reader: User, student_id: int, now: datetime) -> Practice:
    """A student's practice, for the student or a guardian of a minor.

    A plan is part of a note, so its reading is logged, once a day and reader: it is opened daily.
    Refused("not-found").
    """
    student = access_practising(reader, student_id, now=now)
    practice = practice_of(student, now=now)
    if practice.plan is not None and not _has_read_today(reader, practice.plan, student, now):
        log_reading(reader=reader, note=practice.plan, relation="family", now=now)
    return practice


def _has_read_today(reader: User, plan: Assessment, student: Student, now: datetime) -> bool:
    last = AssessmentReading.objects.filter(assessment=plan, reader=reader).first()
    return last is not None and today_of(student, last.read_at) == today_of(student, now)


def tick(
    *, actor: User, student_id: int, assessment_id: int, item: int, on: date, now: datetime
) -> PracticeTick:
    """Notes that the student practised an item of the plan on a day of their clock.

    A second tick of the same item and day changes nothing. Refused: "not-found" for somebody else's
    student, a note that is not the student's, and an item that is not in the plan;
    "newer-assessment" where a later plan counts; "past" before yesterday or before the plan was
    given; "not-yet" after today.
    """
    plan = _counting_plan(actor, student_id, assessment_id, item=item, on=on, now=now)
    found, is_new = PracticeTick.objects.get_or_create(
        assessment=plan, item=item, on=on, defaults={"ticked_by": actor, "ticked_at": now}
    )
    if is_new:
        record(actor=actor, verb="ticked", thing=plan, now=now)
    return found


def untick(
    *, actor: User, student_id: int, assessment_id: int, item: int, on: date, now: datetime
) -> None:
    """Takes a tick back; nothing changes where there is none. Refused as `tick`."""
    plan = _counting_plan(actor, student_id, assessment_id, item=item, on=on, now=now)
    gone, _ = PracticeTick.objects.filter(assessment=plan, item=item, on=on).delete()
    if gone:
        record(actor=actor, verb="unticked", thing=plan, now=now)


def _counting_plan(
    actor: User, student_id: int, assessment_id: int, *, item: int, on: date, now: datetime
) -> Assessment:
    """The note named, whose plan is the student's latest. Its student is locked, as for a release,
    so that no newer plan comes in between.
    """
    student = access_practising(actor, student_id, now=now)
    lock_students([student.pk])
    plan = latest_plan(student)
    if plan is None or plan.pk != assessment_id:
        if not Assessment.objects.released().filter(pk=assessment_id, student=student).exists():
            raise Refused("not-found", "That id leads to nothing that you may see.", field="plan")
        raise Refused("newer-assessment", "There is a newer practice plan. Open it and tick there.")
    if not 0 <= item < len(plan.practice):
        raise Refused("not-found", "The practice plan has no such item.", field="item")
    check_day(on, given_on=given_on(plan, student), today=today_of(student, now))
    return plan
