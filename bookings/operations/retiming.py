"""Moves meetings after new time-zone rules: the wall time is the promise, the instants follow it.

A moved meeting that now lies on another is kept and flagged for a person to look at, and so is one
whose start no longer exists on the clock. A flagged meeting is outside the guards (models/guards/)
but still blocks new bookings.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.retiming import NOT_SHIFTED, Clash, Shifted
from bookings.domain.vocabulary import Standing
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import Booking, Meeting
from bookings.operations.audit import record
from bookings.operations.locks import hold_teachers, lock_meetings, lock_students
from bookings.queries.own_clocks import kept_rules
from bookings.queries.retiming import Clashes, clashes, shift_of

Row = TypeVar("Row", Meeting, Booking)

_WRITTEN = (
    "starts_at",
    "ends_at",
    "held_until",
    "tzdata_version",
    "is_flagged",
    "flagged_why",
    "sequence",
    "version",
    "changed_at",
)
_COPIED = ("starts_at", "ends_at", "answer_by", "version", "is_flagged")


@dataclass(frozen=True, slots=True)
class Retimed:
    """A meeting as it now stands, its old start, and the clashes that a person has to look at."""

    meeting: Meeting
    old_starts_at: datetime
    why: tuple[Clash, ...]

    @property
    def is_moved(self) -> bool:
        """Whether it starts at another instant; one in a gap of the clock may not."""
        return self.old_starts_at != self.meeting.starts_at


def retime(*, meeting_ids: Collection[int], now: datetime) -> list[Retimed]:
    """Moves those of these meetings that the installed rules put at other instants.

    They are judged anew under the locks: a meeting that has begun, was called off or was moved
    meanwhile is left alone. Meetings whose old and new periods overlap for one person belong in one
    call (domain.retiming.tangles).
    """
    meetings, bookings = _locked(meeting_ids)
    changes = _still_due(meetings.values(), now)
    told_by = {pk: meeting.tzdata_version for pk, (meeting, _) in changes.items()}
    found = clashes(changes.values())
    done = [_move(meeting, shift, found[meeting.pk], now) for meeting, shift in changes.values()]
    moving = [booking for booking in bookings if booking.meeting_id in changes]
    for booking in moving:
        booking.meeting, shift = changes[booking.meeting_id]
        _move_along(booking, shift)
    clashing = {pk for clash in found.values() for pk in clash.bookings}
    _save(done, moving, clashing)
    for one in done:
        _record(one, now)
    moved = [one for one in done if one.is_moved]
    _withdraw_reminders(moved)
    outbox.enqueue(_told(moved, moving, told_by, now), now=now)
    return done


def _save(done: Sequence[Retimed], bookings: Sequence[Booking], clashing: Collection[int]) -> None:
    """Saves all in two steps, so that no row meets a guard half way.

    The update that moves the rows flags every one. A second update clears the flag of those that
    clash with nothing; `clashing` are the ids of bookings that keep it.
    """
    Meeting.objects.bulk_update([_flagged(one.meeting, True) for one in done], _WRITTEN)
    Booking.objects.bulk_update([_flagged(booking, True) for booking in bookings], _COPIED)
    for one in done:
        _flagged(one.meeting, bool(one.why))
    for booking in bookings:
        _flagged(booking, booking.pk in clashing)
    meetings = [one.meeting for one in done]
    Meeting.objects.filter(pk__in=_unflagged_ids(meetings)).update(is_flagged=False)
    Booking.objects.filter(pk__in=_unflagged_ids(bookings)).update(is_flagged=False)


def _unflagged_ids(rows: Sequence[Row]) -> list[int]:
    return [row.pk for row in rows if not row.is_flagged]


def _record(one: Retimed, now: datetime) -> None:
    fields = []
    if one.is_moved:
        fields.append("starts_at")
    if one.why:
        fields.append("is_flagged")
    record(actor=None, verb="retimed", thing=one.meeting, fields=fields, now=now)


def _withdraw_reminders(moved: Sequence[Retimed]) -> None:
    """Reminders name the old time, and shifts of weekly places follow from the old rules."""
    places = {one.meeting.weekly_place_id for one in moved} - {None}
    meeting_keys = [f"meeting:{one.meeting.pk}" for one in moved]
    outbox.withdraw([*meeting_keys, *(f"weekly-place:{place}" for place in places)])


def stamp(*, meeting_ids: Collection[int]) -> int:
    """Notes the installed version on meetings that stay where they are; returns how many.

    Nobody sees a change.
    """
    meetings = lock_meetings(meeting_ids).values()
    same = [
        meeting.pk
        for meeting in meetings
        if meeting.tzdata_version != TZDATA_VERSION and shift_of(meeting) == NOT_SHIFTED
    ]
    return Meeting.objects.filter(pk__in=same).update(tzdata_version=TZDATA_VERSION)


def clear_flag(*, actor: User, meeting: Meeting, now: datetime) -> Meeting:
    """Clears the flag of a meeting and its bookings after a person has looked at it.

    A start in a gap of the clock is accepted as it stands. Refused: "already-done" where it is not
    flagged, "taken" or "own-clash" while it still lies on another meeting.
    """
    meetings, bookings = _locked([meeting.pk])
    current = meetings[meeting.pk]
    if not current.is_flagged:
        raise Refused("already-done", "This meeting is not flagged any more.")
    why = clashes([(current, NOT_SHIFTED)])[current.pk].why
    if Clash.INSTRUCTOR in why and not current.is_cancelled:
        raise Refused(
            "taken",
            "The instructor still has another meeting then, changeover included: "
            "move one of the two first.",
        )
    if Clash.STUDENT in why and not current.is_cancelled:
        raise Refused(
            "own-clash",
            "A student of it is still in another meeting then: "
            "move or cancel one of the two first.",
        )
    current.flagged_why = ""
    current.version += 1
    _flagged(current, False).save(update_fields=["is_flagged", "flagged_why", "version"])
    Booking.objects.filter(pk__in=[booking.pk for booking in bookings]).update(is_flagged=False)
    record(actor=actor, verb="cleared flag", thing=current, fields=["is_flagged"], now=now)
    return current


def _locked(meeting_ids: Collection[int]) -> tuple[dict[int, Meeting], list[Booking]]:
    """These meetings and their live bookings, by id, with everything locked in lock order."""
    rows = Booking.objects.in_meetings(meeting_ids).live().with_student().order_by("pk")
    instructors = Meeting.objects.filter(pk__in=meeting_ids).values_list("instructor_id", flat=True)
    hold_teachers(instructors, [booking.student for booking in rows.all()])
    meetings = lock_meetings(meeting_ids)
    lock_students([booking.student_id for booking in rows.all()])
    return meetings, list(rows.all())


def _still_due(meetings: Iterable[Meeting], now: datetime) -> dict[int, tuple[Meeting, Shifted]]:
    """The meetings ahead that the installed rules move, by id, each with its shift."""
    found = {}
    for meeting in meetings:
        is_up_to_date = meeting.tzdata_version == TZDATA_VERSION
        if is_up_to_date or meeting.starts_at <= now or meeting.is_cancelled:
            continue
        shift = shift_of(meeting)
        if shift != NOT_SHIFTED:
            found[meeting.pk] = meeting, shift
    return found


def _move(meeting: Meeting, shift: Shifted, clash: Clashes, now: datetime) -> Retimed:
    """Puts the meeting at its new instants, in memory."""
    old_starts_at = meeting.starts_at
    meeting.starts_at, meeting.ends_at, meeting.held_until = (
        instant + shift.by for instant in (meeting.starts_at, meeting.ends_at, meeting.held_until)
    )
    meeting.tzdata_version = TZDATA_VERSION
    meeting.flagged_why = " ".join(clash.why)
    meeting.version += 1
    if shift.moves:
        meeting.sequence += 1
        meeting.changed_at = now
    return Retimed(meeting, old_starts_at, clash.why)


def _move_along(booking: Booking, shift: Shifted) -> None:
    """Moves the copied period, in memory. An offer is answered by the start at the latest."""
    booking.starts_at, booking.ends_at = booking.starts_at + shift.by, booking.ends_at + shift.by
    if booking.answer_by is not None:
        booking.answer_by = min(booking.answer_by, booking.starts_at)
    booking.version += 1


def _flagged(row: Row, is_flagged: bool) -> Row:
    row.is_flagged = is_flagged
    return row


def _told(
    moved: Sequence[Retimed], bookings: Sequence[Booking], told_by: Mapping[int, str], now: datetime
) -> list[notices.OutboxMessage]:
    """The messages about these meetings. An open offer is repeated with the new time."""
    held = [booking for booking in bookings if booking.standing == Standing.HELD]
    rules = kept_rules(set(told_by.values()))
    changes = [
        notices.Moved(
            one.meeting,
            one.old_starts_at,
            [booking for booking in held if booking.meeting_id == one.meeting.pk],
            rules.get(told_by[one.meeting.pk]),
        )
        for one in moved
    ]
    messages = notices.retimed(changes, now=now)
    moved_ids = {one.meeting.pk for one in moved}
    for booking in bookings:
        if booking.standing == Standing.OFFERED and booking.meeting_id in moved_ids:
            messages += notices.offer_made(booking, now=now)
    return messages
