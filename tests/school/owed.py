"""Acts on the lessons of a weekly place, for the tests of owed lessons."""

from datetime import date, datetime, timedelta

from bookings.domain.vocabulary import Attendance, OwedCause
from bookings.door import write
from bookings.models import Booking, OwedLesson, WeeklyPlace
from bookings.operations.booking import book_slot, cancel_slot
from bookings.operations.calling_off import call_off
from bookings.operations.register import mark_register
from bookings.operations.reinstating import reinstate_meeting
from tests.school.weekly import NOW, School


def owed_from_before(place: WeeklyPlace) -> OwedLesson:
    """A lesson that was carried in to the term of this place, written directly."""
    return OwedLesson.objects.create(
        student=place.student,
        term=place.term,
        offering=place.offering,
        minutes=place.offering.minutes,
        cause=OwedCause.CARRIED_IN,
        reason="Owed since autumn.",
        use_by=date(2027, 4, 9),
        owed_at=NOW,
    )


class OwedSchool(School):
    """Marlo has the twelve Tuesdays of the term with Ilse, 12 January to 6 April 2027."""

    def __init__(self) -> None:
        super().__init__()
        self.place: WeeklyPlace = self.take()

    def lesson_on(self, on: date, place: WeeklyPlace | None = None) -> Booking:
        return Booking.objects.with_details().get(
            meeting__weekly_place=place or self.place, meeting__wall_on=on
        )

    def cancel(self, booking: Booking, *, before: timedelta = timedelta(days=2)) -> Booking:
        now = booking.starts_at - before
        return write(lambda: cancel_slot(actor=self.marlo.user, booking=booking, now=now), now=now)

    def call_off(self, booking: Booking, *, before: timedelta = timedelta(days=2)) -> None:
        now = booking.starts_at - before
        write(
            lambda: call_off(actor=self.dag, meeting=booking.meeting, why="Ill.", now=now), now=now
        )

    def reinstate(self, booking: Booking, now: datetime) -> None:
        write(lambda: reinstate_meeting(actor=self.dag, meeting=booking.meeting, now=now), now=now)

    def mark(self, booking: Booking, attendance: Attendance) -> None:
        now = booking.ends_at + timedelta(hours=1)
        write(
            lambda: mark_register(
                actor=self.ilse.user,
                meeting=booking.meeting,
                marks={booking.pk: attendance},
                now=now,
            ),
            now=now,
        )

    def make_up(self, owed: OwedLesson, starts_at: datetime, now: datetime) -> Booking:
        return self.book(starts_at, now, owed)

    def book(self, starts_at: datetime, now: datetime, owed: OwedLesson | None = None) -> Booking:
        """A single lesson, or the make-up of an owed one."""
        return write(
            lambda: book_slot(
                actor=self.marlo.user,
                student=self.marlo,
                offering=self.lesson,
                instructor=self.ilse,
                starts_at=starts_at,
                owed=owed,
                now=now,
            ),
            now=now,
        )

    def owed(self) -> list[OwedLesson]:
        return list(OwedLesson.objects.order_by("pk"))
