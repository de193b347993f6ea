"""The next date, agreed at the end of a lesson: one start is booked, or several are proposed."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import Instructor, Student, User
from bookings.domain.errors import Refused
from bookings.models import Booking, Offering, ProposedTimes
from bookings.operations.booking import book_slot
from bookings.operations.proposed_times import propose_times


def agree_next_date(
    *,
    actor: User,
    student: Student,
    offering: Offering,
    instructor: Instructor,
    starts: Sequence[datetime],
    proposes: bool,
    now: datetime,
) -> Booking | ProposedTimes:
    """Books the one start, or proposes all of them. Refused as `book_slot` or `propose_times`.

    Refused("invalid") for a booking of none or several.
    """
    if proposes:
        return propose_times(
            actor=actor,
            student=student,
            offering=offering,
            instructor=instructor,
            starts=starts,
            now=now,
        )
    if len(starts) != 1:
        raise Refused("invalid", "Choose one time to book, or propose several.", field="starts")
    return book_slot(
        actor=actor,
        student=student,
        offering=offering,
        instructor=instructor,
        starts_at=starts[0],
        now=now,
    )
