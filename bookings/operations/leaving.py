"""An instructor leaves the school or comes back; their meetings ahead are named or called off."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from accounts.models import Instructor, Student, User, Welcome
from accounts.sessions import end_sessions_and_tokens
from bookings import notices, outbox
from bookings.access import require_admin
from bookings.domain.clearing import Decision, Remedy
from bookings.domain.errors import Refused
from bookings.domain.timeline import rfc3339
from bookings.domain.vocabulary import Ended
from bookings.domain.wall import spoken
from bookings.models import Meeting, WeeklyPlace
from bookings.operations.audit import record
from bookings.operations.clearing import Done, check_all_decided, settle
from bookings.operations.commitments import lock_ahead
from bookings.operations.exchange_state import withdraw_place
from bookings.operations.invitations import void
from bookings.operations.locks import lock_instructors
from bookings.operations.regular_instructors import end_regular_students
from bookings.queries.days_away import meetings_in_the_way
from bookings.queries.teaching import zone_of_hours

INSTRUCTOR = "an instructor"
_NAMED = 5


@dataclass(frozen=True, slots=True)
class Dismissed:
    """An instructor who has left, their meetings that were called off, and the students of whom
    they were the regular instructor.
    """

    instructor: Instructor
    called_off: list[Meeting]
    regular_students: list[Student]


def dismiss_instructor(
    *, actor: User, instructor: Instructor, call_off_why: str | None = None, now: datetime
) -> Dismissed:
    """Ends an instructor's teaching here. Their weekly places end; their account stays.

    Their students have no regular instructor then. `call_off_why` is a sentence for everybody in
    the meetings ahead, which are called off. Refused: "has-bookings" with `meetings` where there
    are some and it is None, "already-ended", "conflict" as in `lock_ahead`.
    """
    current = lock_instructors([instructor.pk])[instructor.pk]
    if not current.is_active:
        raise Refused("already-ended", f"{current} does not teach here any more.")
    lock_ahead([], taught_by=current.pk, now=now)
    done = clear(actor=actor, instructor=current, since=now, call_off_why=call_off_why, now=now)
    students = end_regular_students(actor=actor, instructor=current, now=now)
    for place in WeeklyPlace.objects.not_ended().filter(instructor=current):
        place.ended_at, place.ended_why = now, Ended.CALLED_OFF
        place.version += 1
        place.save(update_fields=["ended_at", "ended_why", "version"])
        withdraw_place(place, actor=actor, now=now)
    current.is_active = False
    current.save(update_fields=["is_active"])
    # Otherwise an open invitation would let them teach again.
    invited = Welcome.objects.usable(now).filter(email=current.user.email, as_instructor=True)
    void(invited, now=now)
    record(actor=actor, verb="dismissed", thing=current, fields=["is_active"], now=now)
    messages = notices.role_changed(current.user, INSTRUCTOR, gained=False, now=now)
    outbox.enqueue(messages, now=now)
    outbox.bump_feeds([current.user_id], now=now)
    return Dismissed(current, done.called_off, students)


def teach_again(*, actor: User, instructor: Instructor, now: datetime) -> Instructor:
    """Lets a dismissed instructor teach again. They have to sign in again.

    Meetings that were called off stay so. Refused: "already-done", "already-ended" for a closed
    account.
    """
    require_admin(actor)
    current = lock_instructors([instructor.pk])[instructor.pk]
    if current.is_active:
        raise Refused("already-done", f"{current} teaches here.")
    if not current.user.is_active:
        raise Refused("already-ended", "The account of this instructor is closed: open it again.")
    current.is_active = True
    current.save(update_fields=["is_active"])
    record(actor=actor, verb="teaches again", thing=current, fields=["is_active"], now=now)
    end_sessions_and_tokens(current.user)
    messages = notices.role_changed(current.user, INSTRUCTOR, gained=True, now=now)
    outbox.enqueue(messages, now=now)
    outbox.bump_feeds([current.user_id], now=now)
    return current


def clear(
    *,
    actor: User,
    instructor: Instructor,
    since: datetime,
    until: datetime | None = None,
    call_off_why: str | None,
    decisions: Sequence[Decision] | None = None,
    seen: str | None = None,
    now: datetime,
) -> Done:
    """Settles all meetings of a locked instructor that are ahead and overlap [since, until). Where
    no `decisions` say otherwise, all are called off.

    Times proposed in that stretch are taken back, with the others of their proposal. The
    instructor's lock keeps others from being added. `seen` is what a preview showed. Refused:
    "has-bookings" with `meetings`, by start, where there are some and `call_off_why` is None;
    "stale" where they are not as `seen` or as decided, under every meeting's lock; and as
    `clear_hours`.
    """
    meetings = meetings_in_the_way(instructor, since=since, until=until, now=now)
    if meetings and call_off_why is None:
        raise _in_the_way(meetings, zone_of_hours(instructor))
    if decisions is None:
        decisions = [Decision(meeting.pk, Remedy.CALL_OFF) for meeting in meetings]
    check_all_decided(meetings, decisions)
    return settle(
        actor=actor,
        instructor=instructor,
        since=since,
        until=until,
        meetings=meetings,
        decisions=decisions,
        why=call_off_why or "",
        seen=seen if meetings else None,
        now=now,
    )


def _in_the_way(meetings: Sequence[Meeting], time_zone: str) -> Refused:
    times = [spoken(meeting.starts_at, time_zone) for meeting in meetings[:_NAMED]]
    more = f" and {len(meetings) - _NAMED} more" if len(meetings) > _NAMED else ""
    count = "A meeting stands" if len(meetings) == 1 else f"{len(meetings)} meetings stand"
    return Refused(
        "has-bookings",
        f"{count} in the way: {', '.join(times)}{more}. "
        "Say why they are called off, and everybody in them is told; or move them first.",
        meetings=[
            {"id": meeting.pk, "starts_at": rfc3339(meeting.starts_at)} for meeting in meetings
        ],
    )
