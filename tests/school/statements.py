"""A February that is over: an instructor's lessons, and the statement of hours about it."""

from collections.abc import Callable
from dataclasses import asdict
from datetime import date, datetime, timedelta

import pytest

from accounts.models import Instructor, Student, User
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance, Ended, Kind, MeetingStatus, Standing
from bookings.door import write
from bookings.models import Booking, Mark, Meeting, Offering, Statement, StatementCorrection
from bookings.operations.register import mark_register
from bookings.operations.statements import correct_statement, issue_statement
from bookings.queries.statements import differences, lines_of
from tests import cast
from tests.cast import at

OVER = at("2027-03-01T09:00Z")
"""The first day after the period, in Dublin."""
FIRST_ON, LAST_ON = date(2027, 2, 1), date(2027, 2, 28)


class February:
    """Ilse in Dublin taught Noor, in lessons of 50 minutes at 16:00 from 1 February 2027 on."""

    def __init__(self) -> None:
        cast.make_policy()
        self.dag = cast.make_admin()
        self.ilse = cast.make_instructor()
        self.noor = cast.make_student()
        self.lesson = cast.make_offering("Harp lesson", Kind.PRIVATE_LESSON, 50)
        self.group = cast.make_offering("Studio class", Kind.GROUP_MEETING, 60)
        cast.teaches(self.ilse, self.lesson, self.group)

    def lesson_on(self, day: int, **booking: object) -> Booking:
        """A lesson on that day of February, held by Noor unless said otherwise."""
        starts_at = at("2027-02-01T16:00Z") + timedelta(days=day - 1)
        return cast.make_booking(
            cast.make_meeting(self.lesson, self.ilse, starts_at), self.noor, **booking
        )

    def ended_on(self, day: int, why: Ended) -> Booking:
        """A lesson that was cancelled or called off the day before."""
        booking = self.lesson_on(day)
        booking.standing, booking.ended_why = Standing.ENDED, why
        booking.ended_at = booking.starts_at - timedelta(hours=20)
        booking.save()
        Meeting.objects.filter(pk=booking.meeting_id).update(
            status=MeetingStatus.CANCELLED, taken=0
        )
        return booking

    def mark(self, booking: Booking, attendance: Attendance, now: datetime = OVER) -> None:
        """Marks the register, or corrects it."""
        write(
            lambda: mark_register(
                actor=self.ilse.user,
                meeting=booking.meeting,
                marks={booking.pk: attendance},
                now=now,
            ),
            now=now,
        )

    def taught_on(self, day: int) -> Booking:
        """A lesson on that day to which Noor came."""
        booking = self.lesson_on(day)
        self.mark(booking, Attendance.PRESENT)
        return booking

    def issue(
        self,
        first_on: date = FIRST_ON,
        last_on: date = LAST_ON,
        now: datetime = OVER,
        **more: object,
    ) -> Statement:
        """Dag issues the statement of these dates."""
        return write(
            lambda: issue_statement(
                actor=self.dag,
                instructor=self.ilse,
                first_on=first_on,
                last_on=last_on,
                now=now,
                **more,
            ),
            now=now,
        )

    def correct(
        self, statement: Statement, now: datetime = OVER, **more: object
    ) -> StatementCorrection:
        """Dag corrects it."""
        return write(
            lambda: correct_statement(actor=self.dag, statement=statement, now=now, **more), now=now
        )


def statement_of(instructor: Instructor, admin: User, meeting: Meeting | None = None) -> Statement:
    """A statement of January 2026, in which this instructor taught nothing; past every rule.

    A line about a `meeting` of other days is one that a correction would take back.
    """
    statement = Statement.objects.create(
        instructor=instructor,
        first_on=date(2026, 1, 1),
        last_on=date(2026, 1, 31),
        issued_at=OVER,
        issued_by=admin,
    )
    if meeting is not None:
        statement.lines.create(
            position=1,
            meeting=meeting,
            starts_at=meeting.starts_at,
            wall_on=meeting.wall_on,
            time_zone=meeting.zone,
            kind=meeting.offering.kind,
            booked_minutes=meeting.minutes,
            outcome="taught",
            counted_minutes=meeting.minutes,
            total_minutes=meeting.minutes,
        )
    return statement


def one_more_statement(first: Statement) -> Statement:
    """The statement of the same instructor's year before, without lines."""
    return Statement.objects.create(
        instructor=first.instructor,
        first_on=date(2025, 1, 1),
        last_on=date(2025, 1, 31),
        issued_at=OVER,
    )


def differing_statement(
    instructor: Instructor, student: Student, offering: Offering, admin: User
) -> Statement:
    """A statement of January 2027 with a correction, and one more register that has changed.

    Written past every rule, with no row of the audit.
    """
    places = [
        cast.taught(instructor, student, offering, at(start))
        for start in ("2027-01-11T16:00Z", "2027-01-18T16:00Z")
    ]
    issued = Statement.objects.create(
        instructor=instructor,
        first_on=date(2027, 1, 1),
        last_on=date(2027, 1, 31),
        issued_at=OVER,
        issued_by=admin,
    )
    for place in places:
        _mark(place, Attendance.PRESENT)
    _write_lines(issued, correction=0)
    _mark(places[0], Attendance.ABSENT_WITHOUT_NOTICE)
    _write_lines(issued, correction=1)
    issued.corrections.create(number=1, made_at=OVER, made_by=admin)
    _mark(places[1], Attendance.INSTRUCTOR_ABSENT)
    return issued


def _mark(place: Booking, attendance: Attendance) -> None:
    Mark.objects.update_or_create(
        booking=place, defaults={"attendance": attendance, "marked_at": OVER}
    )


def _write_lines(statement: Statement, *, correction: int) -> None:
    before = statement.lines.count()
    for position, (line, total) in enumerate(differences(statement).rows, before + 1):
        statement.lines.create(
            position=position, correction=correction, total_minutes=total, **asdict(line)
        )


def refused(code: str, act: Callable[[], object]) -> Refused:
    """The refusal of this act, which has this code."""
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code
    return caught.value


def lines(statement: Statement) -> list[tuple[int, str, int, int]]:
    """The day, the outcome, the minutes that count and the running total of each line."""
    return [
        (row.wall_on.day, row.outcome, row.counted_minutes, row.total_minutes)
        for row in lines_of(statement)
    ]


def counted_by_hand(instructor_id: int, first_on: date, last_on: date) -> int:
    """The minutes that count by a walk over the rows that shares nothing with the product."""
    total = 0
    for meeting in Meeting.objects.filter(instructor=instructor_id, is_proposed=False):
        if not first_on <= meeting.wall_on <= last_on:
            continue
        places = list(meeting.bookings.select_related("mark"))
        marks = [one.mark.attendance for one in places if one.standing == "HELD"]
        came = "PRESENT" in marks or "LATE" in marks
        kept = "ABSENT_WITHOUT_NOTICE" in marks and "INSTRUCTOR_ABSENT" not in marks
        was_late = any(one.ended_why == "cancelled-late" for one in places)
        called_off = any(one.ended_why == "called-off" for one in places)
        if meeting.status == "CANCELLED":
            is_one = meeting.offering.kind in ("consultation", "private-lesson")
            counts = is_one and was_late and not called_off
        else:
            counts = came or kept or (not marks and was_late)
        total += meeting.minutes if counts else 0
    return total
