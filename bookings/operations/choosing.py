"""The school chooses the players of a group meeting among those who have applied.

Whoever applies has a place on the waiting list of players, in order, and is offered nothing.
"""

from datetime import datetime

from accounts.models import Student, User
from bookings import notices, outbox
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended, PlaceKind
from bookings.models import Booking, Meeting, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.intakes import IntakeText, store_intake
from bookings.operations.joining import lock_to_join
from bookings.operations.locks import lock_meeting, lock_students
from bookings.operations.meeting_state import check_lies_ahead
from bookings.operations.places import book_place
from bookings.operations.queues import end_waiting, waiting_places_of
from bookings.queries.waiting import line

REASON = "Chosen to play."


def choose_player(
    *, actor: User, student: Student, meeting: Meeting, version: int | None = None, now: datetime
) -> Booking:
    """Gives a player place to a student who has applied; the others keep their order.

    What they wrote of a piece and a recording becomes the intake. Refused: "not-allowed" to all but
    admins, "stale", "not-waiting" where they have not applied, as `check_open_choice`, and as
    `book_place`.
    """
    require_admin(actor)
    locked, locked_student = lock_to_join(meeting, student, version)
    _check_open_choice(locked, now)
    applied = waiting_places_of(locked_student, locked, PlaceKind.PLAYER).first()
    if applied is None:
        raise Refused("not-waiting", "The student has not applied, or is chosen already.")
    booking = book_place(
        actor=actor,
        student=locked_student,
        meeting=locked,
        place_kind=PlaceKind.PLAYER,
        reason=REASON,
        ahead_of_queue=True,
        now=now,
    )
    if applied.piece or applied.recording:
        recordings = [applied.recording] if applied.recording else []
        store_intake(booking, IntakeText(pieces=applied.piece, recordings=recordings), now=now)
    return booking


def close_choice(
    *, actor: User, meeting: Meeting, version: int | None = None, now: datetime
) -> Meeting:
    """Ends the choice. Those who have applied and are not chosen are told, once each.

    Refused: "not-allowed" to all but admins, "stale", "wrong-kind", "already-ended",
    "already-done".
    """
    require_admin(actor)
    current = lock_meeting(meeting.pk, version=version)
    _check_open_choice(current, now)
    rows = list(line(current, PlaceKind.PLAYER))
    lock_students([row.student_id for row in rows])
    end_waiting(WaitingPlace.objects.filter(pk__in=[row.pk for row in rows]), Ended.NOT_CHOSEN, now)
    current.choice_closed_at = now
    current.version += 1
    current.save(update_fields=["choice_closed_at", "version"])
    record(actor=actor, verb="closed the choice", thing=current, now=now)
    outbox.enqueue(notices.not_chosen(current, rows, now=now), now=now)
    return current


def is_choice_open(meeting: Meeting, *, now: datetime) -> bool:
    """Whether an admin may choose players now."""
    try:
        _check_open_choice(meeting, now)
    except Refused:
        return False
    return True


def _check_open_choice(meeting: Meeting, now: datetime) -> None:
    """Refused: "wrong-kind" where families book, "already-ended", "already-done" once closed."""
    if not meeting.players_are_chosen:
        raise Refused("wrong-kind", "Families book the player places of this meeting themselves.")
    check_lies_ahead(meeting, now)
    if meeting.choice_closed_at is not None:
        raise Refused("already-done", "The players of this meeting have been chosen already.")
