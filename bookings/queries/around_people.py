"""What belongs to one person, counted for the page that an admin opens of them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, IntegerField, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from accounts.models import Instructor, Student, User, Welcome
from bookings.access import require_admin
from bookings.models import (
    Assessment,
    Booking,
    Meeting,
    MoveRequest,
    OwedLesson,
    PrivacyRequest,
    Term,
    WaitingPlace,
    WeeklyPlace,
)


@dataclass(frozen=True, slots=True)
class AroundStudent:
    """How much a student has ahead, is owed and has asked for; `term` is the running one's id."""

    invitations: Sequence[Welcome]
    ahead: int
    weekly: int
    waiting: int
    owed: int
    move_requests: int
    notes: int
    data_requests: int
    term: int | None


@dataclass(frozen=True, slots=True)
class AroundInstructor:
    """How much an instructor teaches ahead, and how many students are theirs."""

    ahead: int
    students: int
    offerings: int
    move_requests: int


def around_student(actor: User, student: Student, *, now: datetime) -> AroundStudent:
    """Two queries. Refused("not-allowed") for anybody but an admin."""
    require_admin(actor)
    of = {"student": OuterRef("pk")}
    today = now.date()
    terms = Term.objects.filter(first_on__lte=today, last_on__gte=today).order_by("first_on", "pk")
    notes = Assessment.objects.filter(**of, released_at__isnull=False)
    row = (
        Student.objects.filter(pk=student.pk)
        .order_by()
        .values_list(
            _count(Booking.objects.held().filter(**of).ending_after(now)),
            _count(WeeklyPlace.objects.not_ended().filter(**of)),
            _count(WaitingPlace.objects.waiting().filter(**of)),
            _count(OwedLesson.objects.still_owed().filter(**of)),
            _count(
                MoveRequest.objects.unanswered().filter(booking__student=OuterRef("pk")),
                "booking__student",
            ),
            _count(notes),
            _count(PrivacyRequest.objects.open().filter(**of)),
            Subquery(terms.values("pk")[:1]),
        )
        .get()
    )
    open_ones = Welcome.objects.usable(now).filter(Q(student=student) | Q(guardian_of=student))
    return AroundStudent(list(open_ones.order_by("pk")), *row)


def around_instructor(
    actor: User, instructor: Instructor | None, *, now: datetime
) -> AroundInstructor | None:
    """One query; None for somebody who does not teach. Refused as `around_student`."""
    require_admin(actor)
    if instructor is None:
        return None
    of = {"instructor": OuterRef("pk")}
    meetings = Meeting.objects.not_called_off().filter(**of).ahead(now)
    students = Student.objects.filter(regular_instructor=OuterRef("pk"), is_active=True)
    theirs = MoveRequest.objects.unanswered().filter(booking__meeting__instructor=OuterRef("pk"))
    row = (
        Instructor.objects.filter(pk=instructor.pk)
        .order_by()
        .values_list(
            _count(meetings, "instructor"),
            _count(students, "regular_instructor"),
            Count("teaches"),
            _count(theirs, "booking__meeting__instructor"),
        )
        .get()
    )
    return AroundInstructor(*row)


def invitations_to(actor: User, user: User, *, now: datetime) -> list[Welcome]:
    """The open invitations to the address of an account. Refused as `around_student`."""
    require_admin(actor)
    rows = Welcome.objects.usable(now).filter(email=user.email)
    return list(rows.select_related("student__user", "guardian_of__user").order_by("pk"))


def _count(rows: QuerySet[Any], by: str = "student") -> Coalesce:
    counted = rows.order_by().values(by).annotate(count=Count("pk")).values("count")
    return Coalesce(Subquery(counted, output_field=IntegerField()), 0)
