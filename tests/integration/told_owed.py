"""The emails about lessons that the school owes."""

from datetime import date

from bookings import notices
from bookings.domain.vocabulary import Ended, OwedCause, OwedClosed
from bookings.models import Booking, OwedLesson
from tests.cast import NOW
from tests.integration.told_words import LATER, MONDAYS, Told, end
from tests.school.golden import School


def owed(school: School) -> Told:
    """A lesson is called off and owed, one is cancelled and owed, the next is not any more."""
    weekly = school.weekly(MONDAYS)
    off, cancelled, beyond = weekly.bookings[:3]
    owed_lesson = _owed(school, end(off, Ended.CALLED_OFF, whole=True), OwedCause.CALLED_OFF)
    yield (
        "called_off_owed",
        notices.called_off(off.meeting, [off], owed=[owed_lesson], now=LATER),
    )
    end(cancelled, Ended.CANCELLED_IN_TIME, whole=True)
    again = _owed(school, cancelled, OwedCause.CANCELLED_IN_TIME)
    yield "cancelled_owed", notices.booking_ended(cancelled, owed=again, now=LATER)
    end(beyond, Ended.CANCELLED_IN_TIME, whole=True)
    yield "cancelled_beyond_limit", notices.booking_ended(beyond, now=LATER)
    make_up = school.booked("2027-03-30T21:00Z")
    make_up.makes_up = owed_lesson
    make_up.save()
    yield "make_up_booked", notices.booking_made(make_up, now=NOW)
    again.cause = OwedCause.INSTRUCTOR_ABSENT
    yield "lesson_owed", notices.lesson_owed(again, now=LATER)
    posys = [_to_posy(school, one) for one in (again, owed_lesson)]
    yield "owed_reminder", notices.owed_reminder(posys[:1], now=LATER)
    yield "owed_reminder_of_two", notices.owed_reminder(posys, now=LATER)
    yield "owed_lapsed", notices.owed_lapsed([again], now=LATER)
    again.reason = "A long illness."
    yield "owed_extended", notices.owed_changed(again, now=LATER)
    again.closed_how, again.version = OwedClosed.BY_HAND, 2
    yield "owed_settled", notices.owed_changed(again, now=LATER)


def _to_posy(school: School, owed: OwedLesson) -> OwedLesson:
    """The same, owed to a child under a fixed key: the email names the page of their times."""
    return OwedLesson(
        pk=owed.pk,
        student=school.posy,
        booking=owed.booking,
        offering=owed.offering,
        minutes=owed.minutes,
        use_by=date(2027, 6, 15),
    )


def _owed(school: School, booking: Booking, cause: OwedCause) -> OwedLesson:
    return OwedLesson.objects.create(
        pk=school.key(),
        booking=booking,
        student=booking.student,
        term=booking.meeting.weekly_place.term,
        offering=booking.meeting.offering,
        minutes=booking.meeting.minutes,
        cause=cause,
        use_by=booking.starts_at.date().replace(month=6),
        owed_at=NOW,
    )
