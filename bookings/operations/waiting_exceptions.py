"""What an admin does to a waiting list: add, remove, and hold the next free place.

Nobody's rank ever changes: whoever is held the next place keeps theirs, and so do the others.
"""

from datetime import datetime

from accounts.models import Student, User
from bookings import outbox
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Booking, Meeting, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.joining import lock_to_join
from bookings.operations.queues import offer_next, waiting_places_of
from bookings.operations.waiting import join_waiting_list, leave_waiting_list, raise_version
from bookings.queries.waiting import is_anybodys


def add_to_waiting_list(
    *,
    actor: User,
    student: Student,
    meeting: Meeting,
    place_kind: PlaceKind,
    reason: str,
    now: datetime,
) -> WaitingPlace:
    """Puts a student last on the waiting list, and tells the family.

    Refused: "not-allowed", "invalid" without a reason, and as `join_waiting_list`.
    """
    _check_admin(actor, reason)
    return join_waiting_list(
        actor=actor,
        student=student,
        meeting=meeting,
        place_kind=place_kind,
        reason=reason,
        now=now,
    )


def remove_from_waiting_list(
    *,
    actor: User,
    student: Student,
    meeting: Meeting,
    place_kind: PlaceKind,
    reason: str,
    meeting_version: int | None = None,
    now: datetime,
) -> WaitingPlace:
    """Takes a student off the waiting list, with an open offer, and tells the family.

    Refused: "not-allowed", "invalid" without a reason, "stale", and as `leave_waiting_list`.
    """
    _check_admin(actor, reason)
    return leave_waiting_list(
        actor=actor,
        student=student,
        meeting=meeting,
        place_kind=place_kind,
        meeting_version=meeting_version,
        reason=reason,
        now=now,
    )


def hold_next_place(
    *,
    actor: User,
    student: Student,
    meeting: Meeting,
    place_kind: PlaceKind,
    reason: str,
    meeting_version: int | None = None,
    now: datetime,
) -> WaitingPlace:
    """Holds the next free place for a student, who is put last on the waiting list if not on it.

    It is offered to them first; if they may not take it then, it goes to the next in line and the
    hold stays. Refused: "not-allowed", "invalid" without a reason, "stale", "places-free",
    "already-done" where they have an offer or the next place is held for somebody, "players-chosen"
    where nobody is offered a player place, and as `join_waiting_list`.
    """
    _check_admin(actor, reason)
    locked, _ = lock_to_join(meeting, student, meeting_version)
    _check_may_hold(locked, place_kind, now)
    if not waiting_places_of(student, locked, place_kind).exists():
        add_to_waiting_list(
            actor=actor,
            student=student,
            meeting=locked,
            place_kind=place_kind,
            reason=reason,
            now=now,
        )
        locked.refresh_from_db(fields=["version", "taken", "listeners_taken"])
    waiting = waiting_places_of(student, locked, place_kind).get()
    if Booking.objects.offered().filter(waiting_place=waiting).exists():
        raise Refused("already-done", "A place is offered to this student already.")
    waiting.is_next = True
    waiting.save(update_fields=["is_next"])
    raise_version(locked)
    record(actor=actor, verb="held next place", thing=waiting, reason=reason, now=now)
    outbox.enqueue(offer_next(locked, place_kind, now=now), now=now)
    return waiting


def _check_may_hold(meeting: Meeting, place_kind: PlaceKind, now: datetime) -> None:
    if meeting.players_are_chosen and place_kind == PlaceKind.PLAYER:
        raise Refused("players-chosen", "The school chooses the players here: choose the student.")
    queue = WaitingPlace.objects.for_meetings([meeting]).waiting().filter(place_kind=place_kind)
    if queue.filter(is_next=True).exists():
        raise Refused(
            "already-done",
            "The next free place is held for a student already. Let go of it first.",
        )
    if not meeting.is_full_for(place_kind) and is_anybodys(meeting, place_kind, now=now):
        raise Refused("places-free", "A place is free: add the student to the roster instead.")


def let_next_place_go(
    *,
    actor: User,
    student: Student,
    meeting: Meeting,
    place_kind: PlaceKind,
    reason: str,
    meeting_version: int | None = None,
    now: datetime,
) -> WaitingPlace:
    """Holds the next free place for this student no more. They keep their rank.

    Refused: "not-allowed", "invalid" without a reason, "stale", "already-done" where none is held.
    """
    _check_admin(actor, reason)
    locked, _ = lock_to_join(meeting, student, meeting_version)
    waiting = waiting_places_of(student, locked, place_kind).filter(is_next=True).first()
    if waiting is None:
        raise Refused("already-done", "The next free place is not held for this student.")
    waiting.is_next = False
    waiting.save(update_fields=["is_next"])
    raise_version(locked)
    record(actor=actor, verb="let next place go", thing=waiting, reason=reason, now=now)
    return waiting


def _check_admin(actor: User, reason: str) -> None:
    require_admin(actor)
    if not reason.strip():
        raise Refused("invalid", "Say why: the reason is kept with the change.", field="reason")
