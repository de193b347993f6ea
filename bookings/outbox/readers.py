"""Whether a message that was written ahead still is its reader's when it leaves.

By then a place may have ended or moved, a guardian answer for nobody in it, or a child not be of age yet.
"""

from datetime import datetime

from django.db.models import Q, QuerySet

from accounts.models import Student
from bookings.domain.families import grown_at, hears
from bookings.domain.vocabulary import Standing
from bookings.models import Booking, OutboxMessage
from bookings.outbox.kinds import AHEAD, REMINDERS, MessageKind


def is_theirs(message: OutboxMessage, now: datetime) -> bool:
    """True for what is not written ahead; what is, is of no use after an instant."""
    if message.kind not in AHEAD or message.good_until is None:
        return True
    mine = Q(user=message.recipient_id) | Q(guardians=message.recipient_id)
    places = _places(message, message.good_until)
    students = Student.objects.filter(mine, bookings__in=places).select_related("user").distinct()
    return any(
        hears(student, message.recipient_id, now) and not _was_told(student, message)
        for student in students
    )


def _places(message: OutboxMessage, until: datetime) -> QuerySet[Booking]:
    if message.kind == MessageKind.OFFER_REMINDER:
        _, booking, *_ = message.state_key.split(":")
        offered = Booking.objects.filter(pk=booking, standing=Standing.OFFERED)
        return offered.filter(answer_by=until)
    held = Booking.objects.filter(standing=Standing.HELD)
    if message.kind == MessageKind.SHIFT:
        of_the_place = held.filter(meeting__weekly_place__meetings=message.meeting_id)
        return of_the_place.filter(starts_at__gte=until)
    # Of a meeting that has moved since there is a newer one.
    return held.filter(meeting=message.meeting_id, starts_at=until)


def _was_told(student: Student, message: OutboxMessage) -> bool:
    """Whether a guardian has had the same, before the grown child who is its reader came of age."""
    grown = grown_at(student)
    if student.user_id != message.recipient_id or grown is None:
        return False
    same = OutboxMessage.objects.filter(
        kind=message.kind, subject_key=message.subject_key, good_until=message.good_until
    )
    if (
        message.kind not in REMINDERS
    ):  # those of one start are the same, whatever SEQUENCE they tell
        same = same.filter(state_key=message.state_key)
    guardians = student.guardianships.values("guardian")
    return same.filter(
        recipient__in=guardians, state=OutboxMessage.State.SENT, sent_at__lt=grown
    ).exists()
