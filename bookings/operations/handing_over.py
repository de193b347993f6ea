"""A place passes from somebody who leaves to somebody whom an admin names.

It is never offered to others in between.
"""

from datetime import datetime

from accounts.models import Student, User
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Booking, WaitingPlace
from bookings.operations.locks import lock_meeting, lock_students
from bookings.operations.places import book_place, leave_place


def hand_over_place(
    *,
    actor: User,
    booking: Booking,
    student: Student,
    reason: str,
    meeting_version: int | None = None,
    now: datetime,
) -> Booking:
    """Removes the holder of `booking` and books the student in their place, ahead of those who
    wait, who keep their position. Needs an admin and a reason.

    Refused("already-ended") where the place is not held: an offer stands until it is answered.
    """
    require_admin(actor)
    meeting = lock_meeting(booking.meeting_id, version=meeting_version)
    waiting = WaitingPlace.objects.for_meetings([meeting]).waiting()
    lock_students([booking.student_id, student.pk, *waiting.student_ids()])
    if not Booking.objects.held().filter(pk=booking.pk).exists():
        raise Refused("already-ended", "Choose somebody who holds a place. An offer is kept.")
    leave_place(actor=actor, booking=booking, reason=reason, passes_on=False, now=now)
    return book_place(
        actor=actor,
        student=student,
        meeting=meeting,
        place_kind=PlaceKind(booking.place_kind),
        reason=reason,
        ahead_of_queue=True,
        now=now,
    )
