"""A student's lessons: what is booked, offered and past, and one of them by its start."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery

from accounts.models import Instructor, Student
from bookings.domain.vocabulary import Ended, Kind, Standing
from bookings.models import (
    Booking,
    Meeting,
    MoveRequest,
    Offering,
    ProposedTimes,
    Term,
    WeeklyPlace,
)
from bookings.queries.policies import policy_in_force
from bookings.queries.proposed_times import open_proposals_to
from bookings.queries.weekly_places import open_question

_PAST = 10
_PLACE = tuple(f"meeting__weekly_place__{joined}" for joined in ("offering", "instructor__user"))


@dataclass(frozen=True, slots=True)
class Lessons:
    """One student's bookings by where they stand.

    Of `held` each has `asked_for`, the start that an open request to move it names, or None.
    `places` are the weekly places of these lessons that go on, each with the id of a question about
    an exchange that can still be answered, or None.
    """

    held: list[Booking]
    offers: list[Booking]
    proposals: list[ProposedTimes]
    called_off: list[Booking]
    past: list[Booking]
    places: list[tuple[WeeklyPlace, int | None]]
    family: list[Booking]
    """What the whole family holds or is offered ahead, by start."""

    @property
    def terms(self) -> list[Term]:
        """The terms of the weekly places that these lessons belong to."""
        places = (row.meeting.weekly_place for row in [*self.held, *self.called_off, *self.past])
        return list({place.term.pk: place.term for place in places if place is not None}.values())


def lessons_of(student: Student, *, kin: Sequence[Student] = (), now: datetime) -> Lessons:
    """What lies ahead, and the last ten that have been. `kin` are others of the family, of whom
    only what lies ahead is read, in the same query.
    """
    rows = Booking.objects.not_proposed().select_related(
        "student__user",
        "meeting__offering",
        "meeting__instructor__user",
        "meeting__weekly_place__term",
        "makes_up",
        "policy",
        "intake",
        "mark",
    )
    asked = MoveRequest.objects.unanswered().filter(booking=OuterRef("pk")).order_by()
    told: dict[str, Any] = {
        "asked_for": Subquery(asked.values("starts_at")[:1]),
        "exchange_asked": open_question(OuterRef("meeting__weekly_place"), now=now),
    }
    to_come = rows.ending_after(now).filter(student__in=[student, *kin]).select_related(*_PLACE)
    family = list(to_come.annotate(**told).order_by("starts_at", "pk"))
    ahead = [row for row in family if row.student_id == student.pk]
    held = [row for row in ahead if row.standing == Standing.HELD]
    past = rows.of(student).held().filter(ends_at__lte=now)
    return Lessons(
        held=held,
        offers=[row for row in ahead if _is_open_offer(row, now)],
        proposals=[row for row in open_proposals_to([student.pk]) if row.answer_by > now],
        called_off=[row for row in ahead if _is_called_off(row)],
        past=list(past.order_by("-starts_at")[:_PAST]),
        places=_places(held),
        family=[row for row in family if row.is_live],
    )


def _places(held: Iterable[Booking]) -> list[tuple[WeeklyPlace, int | None]]:
    found: dict[int, tuple[WeeklyPlace, int | None]] = {}
    for booking in held:
        place = booking.meeting.weekly_place
        if place is not None and place.ended_at is None:
            found.setdefault(place.pk, (place, booking.exchange_asked))
    return list(found.values())


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


def ahead_of(students: Sequence[Student], rows: Iterable[Booking], *, now: datetime) -> list[Ahead]:
    """The family at a glance, in the order given, from its live bookings by start: one query."""
    most = policy_in_force(now).rules().open_consultations
    own: dict[int, list[Booking]] = {student.pk: [] for student in students}
    for booking in rows:
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
