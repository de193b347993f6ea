"""Checks a message that was written ahead when it is sent: does it still concern its reader?

Meanwhile a place may have ended or moved, a guardian may no longer answer for the student, or a
child may not have come of age yet.
"""

from datetime import datetime

from django.db.models import Q

from accounts.models import Guardianship, Student
from bookings.domain.families import grown_at, hears
from bookings.models import Booking, BookingQuerySet, OutboxMessage
from bookings.outbox.kinds import AHEAD, REMINDERS, MessageKind


def is_theirs(message: OutboxMessage, now: datetime) -> bool:
    """Whether the message still concerns its reader; True for one that was not written ahead."""
    if message.kind not in AHEAD or message.good_until is None:
        return True
    answering = Guardianship.objects.answering().filter(guardian=message.recipient_id)
    mine = Q(user=message.recipient_id) | Q(pk__in=answering.student_ids())
    places = _places(message, message.good_until)
    students = Student.objects.filter(mine, bookings__in=places).select_related("user").distinct()
    return any(
        hears(student, message.reader_id, now) and not _was_told(student, message)
        for student in students
    )


def _places(message: OutboxMessage, until: datetime) -> BookingQuerySet:
    """The places that the message is about, as they were when it was written."""
    if message.kind == MessageKind.OFFER_REMINDER:
        _, booking, *_ = message.state_key.split(":")
        return Booking.objects.offered().filter(pk=booking, answer_by=until)
    held = Booking.objects.held()
    if message.kind == MessageKind.SHIFT:
        of_the_place = held.filter(meeting__weekly_place__meetings=message.meeting_id)
        return of_the_place.filter(starts_at__gte=until)
    # If the meeting has moved, a newer reminder tells its new start.
    return held.filter(meeting=message.meeting_id, starts_at=until)


def _was_told(student: Student, message: OutboxMessage) -> bool:
    """Whether a guardian has had the same message before its reader, the student, came of age."""
    grown = grown_at(student)
    if student.user_id != message.recipient_id or grown is None:
        return False
    same = OutboxMessage.objects.filter(
        kind=message.kind, subject_key=message.subject_key, good_until=message.good_until
    )
    # Reminders of the same start are the same message, whatever their SEQUENCE is.
    if message.kind not in REMINDERS:
        same = same.filter(state_key=message.state_key)
    guardians = student.guardianships.answering().values("guardian")
    return same.filter(
        recipient__in=guardians, state=OutboxMessage.State.SENT, sent_at__lt=grown
    ).exists()
