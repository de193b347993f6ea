"""The minimum to run of a group meeting: set, decided when it is due, or decided by an admin.

An undecided meeting is TENTATIVE (RFC 5545 section 3.8.1.11). What decides is in domain.minimums.
"""

from datetime import datetime

from accounts.models import User
from bookings import notices, outbox
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.minimums import Minimum, check_fits, check_minimum
from bookings.domain.vocabulary import MeetingStatus
from bookings.models import Meeting
from bookings.operations.audit import record
from bookings.operations.calling_off import call_off_all, live_bookings, once_invited
from bookings.operations.locks import lock_instructors, lock_meeting, lock_meetings
from bookings.operations.meeting_state import check_lies_ahead
from bookings.operations.starts import check_has_offset
from bookings.queries.minimums import players_at

TOO_FEW = "Too few players had a place by the time to decide."
_FIELDS = ("minimum", "decide_by")
_CHANGED = {"minimum": "places", "decide_by": "starts_at"}
"""What of a meeting was changed where its minimum does not fit any more."""


def put_minimum(meeting: Meeting, minimum: Minimum | None, *, now: datetime) -> None:
    """Sets the minimum to run, in memory, and makes the meeting TENTATIVE; None sets nothing.

    Refused: "naive-time", and as `check_minimum`.
    """
    if minimum is None:
        return
    check_has_offset(minimum.decide_by)
    check_minimum(minimum, places=meeting.places, starts_at=meeting.starts_at, now=now)
    meeting.minimum, meeting.decide_by = minimum.players, minimum.decide_by
    meeting.status = MeetingStatus.TENTATIVE


def check_minimum_fits(meeting: Meeting) -> None:
    """Refused as `check_fits`, at what was changed, where an undecided meeting has changed in
    memory.
    """
    if not (meeting.is_undecided and meeting.minimum and meeting.decide_by):
        return
    wanted = Minimum(meeting.minimum, meeting.decide_by)
    try:
        check_fits(wanted, places=meeting.places, starts_at=meeting.starts_at)
    except Refused as refusal:
        field = _CHANGED[refusal.data["field"]]
        raise Refused(refusal.code, refusal.detail, field=field) from None


def set_minimum(
    *, actor: User, meeting: Meeting, minimum: Minimum, version: int | None = None, now: datetime
) -> Meeting:
    """Sets or changes the minimum to run, and tells those who hold a place.

    Refused: "stale", "wrong-kind" for a one-on-one, "already-ended", "already-done" once it is
    decided, "has-bookings" where students have booked a meeting that was certain, and as
    `put_minimum`.
    """
    lock_instructors([meeting.instructor_id])
    current = lock_meeting(meeting.pk, version=version)
    _check_may_have_minimum(current, now)
    before = (current.minimum, current.decide_by)
    put_minimum(current, minimum, now=now)
    if (current.minimum, current.decide_by) == before:
        return current
    _write(current, now)
    record(actor=actor, verb="set minimum", thing=current, fields=_FIELDS, now=now)
    messages = notices.meeting_changed(current, live_bookings(current), now=now)
    outbox.enqueue(messages, now=now, shown_to=once_invited([current]))
    return current


def _check_may_have_minimum(meeting: Meeting, now: datetime) -> None:
    if meeting.offering.is_one_on_one:
        raise Refused("wrong-kind", "A one-on-one has no minimum to run.")
    check_lies_ahead(meeting, now)
    if meeting.is_undecided:
        return
    if meeting.minimum is not None:
        raise Refused("already-done", "It is decided that this meeting runs.")
    if meeting.taken or meeting.listeners_taken:
        raise Refused(
            "has-bookings",
            "Students have booked this meeting as certain. Set a minimum before the first of them "
            "books.",
        )


def say_it_runs(
    *, actor: User, meeting: Meeting, version: int | None = None, now: datetime
) -> Meeting:
    """An admin decides that the meeting runs, however many players it has. Each reader is told.

    Refused: "not-allowed", "stale", "already-ended" where it is called off, "past" once it has
    begun, "already-done" where nothing is left to decide.
    """
    require_admin(actor)
    current = lock_meeting(meeting.pk, version=version)
    if current.is_cancelled:
        raise Refused("already-ended", "This meeting has been called off. You can reinstate it.")
    if current.starts_at <= now:
        raise Refused("past", "This meeting has begun.")
    if not current.is_undecided:
        raise Refused("already-done", "This meeting is certain already.")
    _confirm(current, actor, now)
    return current


def decide_meetings(*, now: datetime) -> int:
    """Decides every meeting whose time to decide has come; returns how many.

    One with too few players is called off. One that has begun undecided, because nothing ran before
    its start, has run: nobody was told otherwise, and nobody is told now.
    """
    due = Meeting.objects.undecided().filter(decide_by__lte=now)
    found = list(due.values_list("pk", "instructor_id"))
    lock_instructors(instructor for _, instructor in found)
    locked = lock_meetings(pk for pk, _ in found).values()
    too_few, decided = [], 0
    for meeting in locked:
        if not meeting.is_undecided or meeting.decide_by is None or meeting.decide_by > now:
            continue  # decided or changed while this waited for the lock
        decided += 1
        is_enough = players_at(meeting, meeting.decide_by) >= (meeting.minimum or 0)
        if is_enough or meeting.starts_at <= now:
            _confirm(meeting, None, now)
        else:
            too_few.append(meeting)
    call_off_all(actor=None, meetings=too_few, why=TOO_FEW, now=now)
    return decided


def _confirm(meeting: Meeting, actor: User | None, now: datetime) -> None:
    meeting.status = MeetingStatus.CONFIRMED
    _write(meeting, now)
    record(actor=actor, verb="decided to run", thing=meeting, fields=["status"], now=now)
    is_ahead = meeting.starts_at > now
    messages = notices.meeting_runs(meeting, live_bookings(meeting), now=now) if is_ahead else []
    outbox.enqueue(messages, now=now, shown_to=once_invited([meeting]))


def _write(meeting: Meeting, now: datetime) -> None:
    meeting.sequence += 1
    meeting.version += 1
    meeting.changed_at = now
    meeting.save()
