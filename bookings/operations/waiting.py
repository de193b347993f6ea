"""The waiting list of a group meeting: join and leave it.

The list is read and changed only under its meeting's lock, so its order never depends on luck.
"""

from datetime import datetime

from accounts.models import Student, User
from bookings import outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended, PlaceKind
from bookings.models import Booking, Meeting, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.booking_state import current_booking
from bookings.operations.joining import check_may_join, lock_to_join
from bookings.operations.offers import end_offer
from bookings.operations.queues import end_waiting, offer_next, waiting_places_of
from bookings.queries.waiting import is_anybodys


def join_waiting_list(
    *, actor: User, student: Student, meeting: Meeting, place_kind: PlaceKind, now: datetime
) -> WaitingPlace:
    """Puts the student last on the waiting list.

    Refused: "places-free" where a place is free to anybody, "already-waiting", and as
    `check_may_join`. A clash with another meeting does not matter before an offer is accepted.
    """
    locked, locked_student = lock_to_join(meeting, student)
    check_may_join(locked_student, locked, place_kind, actor=actor, clash=False, now=now)
    if not locked.is_full_for(place_kind) and is_anybodys(locked, place_kind, now=now):
        raise Refused("places-free", "A place is free: book it instead of waiting.")
    if waiting_places_of(locked_student, locked, place_kind).exists():
        raise Refused("already-waiting", "The student is already on this waiting list.")
    waiting = WaitingPlace.objects.create(
        meeting=locked,
        student=locked_student,
        place_kind=place_kind,
        joined_at=now,
        joined_by=actor,
    )
    _raise_version(locked)
    record(actor=actor, verb="joined waiting list", thing=waiting, now=now)
    # A place may be free that nobody ahead may take, for want of consent or in a minor's night.
    outbox.enqueue(offer_next(locked, place_kind, now=now), now=now)
    return waiting


def leave_waiting_list(
    *,
    actor: User,
    student: Student,
    meeting: Meeting,
    place_kind: PlaceKind,
    meeting_version: int | None = None,
    now: datetime,
) -> WaitingPlace:
    """Takes the student off the waiting list. An open offer is declined with it."""
    locked, _ = lock_to_join(meeting, student, meeting_version)
    waiting = waiting_places_of(student, locked, place_kind).first()
    if waiting is None:
        raise Refused("not-waiting", "The student is not on this waiting list.")
    offer = Booking.objects.offered().filter(waiting_place=waiting).first()
    if offer is not None:
        end_offer(actor, current_booking(offer, version=None), locked, Ended.DECLINED, now)
        waiting.refresh_from_db()
        return waiting
    end_waiting(WaitingPlace.objects.filter(pk=waiting.pk), Ended.LEFT, now)
    _raise_version(locked)
    record(actor=actor, verb="left waiting list", thing=waiting, now=now)
    waiting.refresh_from_db()
    return waiting


def _raise_version(meeting: Meeting) -> None:
    """Those who run a meeting read its waiting list with it."""
    meeting.version += 1
    meeting.save(update_fields=["version"])
