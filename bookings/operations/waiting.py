"""The waiting list of a group meeting: join and leave it.

The list is read and changed only under its meeting's lock, so its order never depends on luck.
"""

from datetime import datetime

from accounts.models import Student, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended, PlaceKind
from bookings.models import Booking, Meeting, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.booking_state import current_booking
from bookings.operations.joining import check_may_join, lock_to_join
from bookings.operations.offers import end_offer
from bookings.operations.queues import end_waiting, offer_next, waiting_places_of
from bookings.queries.waiting import is_anybodys, ranked_place


def join_waiting_list(
    *,
    actor: User,
    student: Student,
    meeting: Meeting,
    place_kind: PlaceKind,
    reason: str = "",
    piece: str = "",
    recording: str = "",
    now: datetime,
) -> WaitingPlace:
    """Puts the student last on the waiting list. `reason` is an admin's; the family is told then.

    Where the school chooses the players, the student applies with it: `piece` and `recording` are
    kept, and a free place does not matter.

    Refused: "places-free" where a place is free to anybody, "already-waiting", and as
    `check_may_join`. A clash with another meeting does not matter before an offer is accepted.
    """
    locked, locked_student = lock_to_join(meeting, student)
    check_may_join(locked_student, locked, place_kind, actor=actor, clash=False, now=now)
    applies = locked.players_are_chosen and place_kind == PlaceKind.PLAYER
    is_full = applies or locked.is_full_for(place_kind)
    if not is_full and is_anybodys(locked, place_kind, now=now):
        raise Refused("places-free", "A place is free: book it instead of waiting.")
    if waiting_places_of(locked_student, locked, place_kind).exists():
        raise Refused("already-waiting", "The student is already on this waiting list.")
    waiting = WaitingPlace.objects.create(
        meeting=locked,
        student=locked_student,
        place_kind=place_kind,
        joined_at=now,
        joined_by=actor,
        piece=piece if applies else "",
        recording=recording if applies else "",
    )
    raise_version(locked)
    record(actor=actor, verb="joined waiting list", thing=waiting, reason=reason, now=now)
    _tell_joined(waiting, place_kind, is_added=bool(reason), now=now)
    return waiting


def _tell_joined(
    waiting: WaitingPlace, place_kind: PlaceKind, *, is_added: bool, now: datetime
) -> None:
    """Offers what is free, and tells a family whom an admin has added."""
    # A place may be free that nobody ahead may take, for want of consent or in a minor's night.
    messages = offer_next(waiting.meeting, place_kind, now=now)
    is_offered = Booking.objects.offered().filter(waiting_place=waiting).exists()
    if is_added and not is_offered:  # an offer tells the family enough
        messages += notices.added_to_waiting_list(ranked_place(waiting.pk), now=now)
    outbox.enqueue(messages, now=now)


def leave_waiting_list(
    *,
    actor: User,
    student: Student,
    meeting: Meeting,
    place_kind: PlaceKind,
    meeting_version: int | None = None,
    reason: str = "",
    now: datetime,
) -> WaitingPlace:
    """Takes the student off the waiting list. An open offer is declined with it.

    `reason` is an admin's, who removes them; the family is told then.
    """
    locked, _ = lock_to_join(meeting, student, meeting_version)
    waiting = waiting_places_of(student, locked, place_kind).first()
    if waiting is None:
        raise Refused("not-waiting", "The student is not on this waiting list.")
    offer = Booking.objects.offered().filter(waiting_place=waiting).first()
    if offer is not None:
        why = Ended.REMOVED if reason else Ended.DECLINED
        current = current_booking(offer, version=None)
        end_offer(actor, current, locked, why, now, reason=reason)
        waiting.refresh_from_db()
        return waiting
    why = Ended.REMOVED if reason else Ended.LEFT
    end_waiting(WaitingPlace.objects.filter(pk=waiting.pk), why, now)
    raise_version(locked)
    verb = "removed from waiting list" if reason else "left waiting list"
    record(actor=actor, verb=verb, thing=waiting, reason=reason, now=now)
    if reason:
        outbox.enqueue(notices.removed_from_waiting_list(waiting, now=now), now=now)
    waiting.refresh_from_db()
    return waiting


def raise_version(meeting: Meeting) -> None:
    """Those who run a meeting read its waiting list with it."""
    meeting.version += 1
    meeting.save(update_fields=["version"])
