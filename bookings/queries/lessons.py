"""A student's lessons: what is booked, offered and past, and one of them by its start."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import OuterRef, QuerySet, Subquery

from accounts.models import Instructor, Student
from bookings.domain.vocabulary import Ended, Kind, Standing
from bookings.models import Booking, Meeting, MoveRequest, Offering, ProposedTimes
from bookings.queries.policies import policy_in_force
from bookings.queries.proposed_times import open_proposals_to

_PAST = 10


@dataclass(frozen=True, slots=True)
class Lessons:
    """One student's bookings by where they stand.

    Of `held` each has `asked_for`, the start that an open request to move it names, or None.
    """

    held: list[Booking]
    offers: list[Booking]
    proposals: list[ProposedTimes]
    called_off: list[Booking]
    past: list[Booking]


def lessons_of(student: Student, *, now: datetime) -> Lessons:
    """What lies ahead, and the last ten that have been."""
    rows = (
        Booking.objects.of(student)
        .not_proposed()
        .select_related(
            "meeting__offering", "meeting__instructor__user", "policy", "intake", "mark"
        )
    )
    asked = MoveRequest.objects.unanswered().filter(booking=OuterRef("pk")).order_by()
    to_come = rows.ending_after(now).annotate(asked_for=Subquery(asked.values("starts_at")[:1]))
    ahead = list(to_come.order_by("starts_at", "pk"))
    past = rows.held().filter(ends_at__lte=now)
    return Lessons(
        held=[row for row in ahead if row.standing == Standing.HELD],
        offers=[row for row in ahead if _is_open_offer(row, now)],
        proposals=[row for row in open_proposals_to([student.pk]) if row.answer_by > now],
        called_off=[row for row in ahead if _is_called_off(row)],
        past=list(past.order_by("-starts_at")[:_PAST]),
    )


@dataclass(frozen=True, slots=True)
class Ahead:
    """What one of the family has ahead: the next lesson they hold, and how many consultations of
    their allowance are open.
    """

    student: Student
    next: Booking | None
    open_consultations: int
    most_consultations: int

    @property
    def is_used_up(self) -> bool:
        """Whether no further consultation can be booked now."""
        return self.open_consultations >= self.most_consultations


def ahead_of(students: Sequence[Student], *, now: datetime) -> list[Ahead]:
    """The family at a glance, in the order given: two queries."""
    most = policy_in_force(now).rules().open_consultations
    rows = Booking.objects.live().ending_after(now).filter(student__in=students).with_details()
    own: dict[int, list[Booking]] = {student.pk: [] for student in students}
    for booking in rows.order_by("starts_at", "pk"):
        own[booking.student_id].append(booking)
    return [
        Ahead(
            student=student,
            next=next((row for row in own[student.pk] if row.standing == Standing.HELD), None),
            open_consultations=sum(
                row.starts_at > now and row.meeting.offering.kind == Kind.CONSULTATION
                for row in own[student.pk]
            ),
            most_consultations=most,
        )
        for student in students
    ]


def _is_open_offer(booking: Booking, now: datetime) -> bool:
    answer_by = booking.answer_by
    return booking.standing == Standing.OFFERED and answer_by is not None and answer_by > now


def _is_called_off(booking: Booking) -> bool:
    """Whether the school called it off, and it has not been reinstated."""
    return booking.ended_why == Ended.CALLED_OFF and booking.meeting.is_cancelled


def held_at(
    student: Student, offering: Offering, instructor: Instructor, starts_at: datetime
) -> Booking | None:
    """The student's own booking of that very start, if it stands."""
    that_start = Booking.objects.of(student).held().filter(starts_at=starts_at)
    return that_start.filter(meeting__offering=offering, meeting__instructor=instructor).first()


def other_meetings(booking: Booking, *, now: datetime) -> QuerySet[Meeting]:
    """Meetings of the same offering ahead, to which a place may move."""
    ahead = Meeting.objects.not_called_off().ahead(now)
    others = ahead.filter(offering=booking.meeting.offering).exclude(pk=booking.meeting_id)
    return others.select_related("instructor__user")
