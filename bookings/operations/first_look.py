"""Book a one-on-one with a first look at the instructor's time, which takes no lock."""

from datetime import datetime, timedelta

from accounts.models import Instructor, Student, User
from bookings.access import acts_as_school
from bookings.domain.policy import Policy
from bookings.domain.proposed_times import without_lead
from bookings.models import Booking, Offering, OwedLesson
from bookings.operations.booking import book_slot
from bookings.operations.consents import require_consent
from bookings.operations.intakes import IntakeText
from bookings.operations.starts import check_among
from bookings.queries.policies import policy_in_force
from bookings.queries.slots import near
from bookings.queries.teaching import teacher_between


def book_start(
    *,
    actor: User,
    student: Student,
    offering: Offering,
    instructor_id: int,
    starts_at: datetime,
    intake: IntakeText | None = None,
    owed: OwedLesson | None = None,
    now: datetime,
) -> Booking:
    """Books as `book_slot`. If the time looks taken, checks the rules before locking.

    Most of a hundred simultaneous requests are refused by the first look and never wait for each
    other. A refusal needs no lock to be true. Refused: "not-found" where nobody with that id
    teaches; StartRefused, with the starts nearby, by the first look; otherwise as `book_slot`.
    """
    ends_at = starts_at + timedelta(minutes=offering.minutes)
    instructor, seems_taken = teacher_between(instructor_id, starts_at, ends_at)
    if seems_taken and offering.is_one_on_one:
        policy = policy_in_force(now).rules()
        by_school = acts_as_school(actor, student)
        if by_school:
            policy = without_lead(policy)
        _look_around(student, offering, instructor, starts_at, owed, policy, by_school, now)
    return book_slot(
        actor=actor,
        student=student,
        offering=offering,
        instructor=instructor,
        starts_at=starts_at,
        intake=intake,
        owed=owed,
        now=now,
    )


def _look_around(
    student: Student,
    offering: Offering,
    instructor: Instructor,
    starts_at: datetime,
    owed: OwedLesson | None,
    policy: Policy,
    by_school: bool,
    now: datetime,
) -> None:
    """Checks the start by one search, whose slots are the starts nearby of a refusal."""
    require_consent(student, now=now)
    around = near(
        offering=offering,
        student=student,
        starts_at=starts_at,
        now=now,
        use_by=owed.use_by if owed is not None else None,
        instructor_id=instructor.pk,
        policy=policy,
        by_school=by_school,
    )
    check_among(around, offering, instructor, starts_at, now)
