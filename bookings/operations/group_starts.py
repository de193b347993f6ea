"""When a group meeting may begin: the instructor's time, their hours and load, and their yes."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from accounts.models import Instructor, User
from bookings.domain.errors import Refused
from bookings.domain.group_starts import may_allow, to_be_allowed
from bookings.domain.timeline import CELL, EPOCH
from bookings.models import Meeting, Offering
from bookings.operations.load_allowances import allow_over_load
from bookings.operations.meeting_state import set_period
from bookings.operations.starts import check_has_offset
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules
from bookings.queries.policies import policy_in_force
from bookings.queries.teaching import levels_taught, zone_of_hours

_AROUND = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class GroupStart:
    """A start that may be written.

    `needs_yes` holds the codes that gave way to the instructor, who makes the meeting themselves
    and has not allowed this start before.
    """

    starts_at: datetime
    ends_at: datetime
    held_until: datetime
    needs_yes: tuple[str, ...]


def judge_group_start(
    *,
    actor: User,
    offering: Offering,
    instructor: Instructor,
    starts_at: datetime,
    moving: Meeting | None = None,
    now: datetime,
) -> GroupStart:
    """Checks the start of a group meeting; the caller has locked the instructor.

    Refused: "not-taught", "naive-time", "past", "off-grid", "taken", and "instructor-may-allow"
    with `rules` where hours, days away or load stand against it, to anybody but the instructor.
    """
    check_teaches(offering, instructor)
    check_has_offset(starts_at)
    if starts_at <= now:
        raise Refused("past", "Choose a start in the future.")
    if (starts_at - EPOCH) % CELL:
        raise Refused("off-grid", "Choose a start on whole five minutes.")
    policy = policy_in_force(now).rules()
    rules = offering_rules(offering, policy)
    if moving is not None:  # a masterclass may have been lengthened
        rules = replace(rules, minutes=moving.minutes)
    ends_at = starts_at + timedelta(minutes=rules.minutes)
    held_until = ends_at + timedelta(minutes=rules.changeover_minutes)
    ignoring = (moving.pk,) if moving is not None and moving.pk else ()
    (time,) = instructors_time(
        [instructor], starts_at - _AROUND, held_until + _AROUND, ignoring=ignoring
    )
    reasons = to_be_allowed(starts_at, rules, time, policy, str(instructor))
    if reasons and actor.pk != instructor.user_id:
        raise may_allow(reasons, starts_at, rules, time, str(instructor))
    return GroupStart(starts_at, ends_at, held_until, tuple(reason.code for reason in reasons))


def check_teaches(offering: Offering, instructor: Instructor) -> None:
    """Refused("not-taught") for an instructor who has left or does not teach this offering."""
    if not instructor.is_active:
        raise Refused(
            "not-taught", f"{instructor} does not teach here any more. Choose another instructor."
        )
    if levels_taught(offering, instructor) is None:
        raise Refused(
            "not-taught", f"{instructor} does not teach {offering.name}. Choose another instructor."
        )


def put_at(
    meeting: Meeting, instructor: Instructor, start: GroupStart, *, actor: User, now: datetime
) -> None:
    """Sets the instructor and the time, in memory, and keeps the yes of an instructor who acts."""
    if start.needs_yes:
        allow_over_load(actor=actor, instructor=instructor, starts_at=start.starts_at, now=now)
    meeting.instructor = instructor
    zone = zone_of_hours(instructor)
    set_period(meeting, start.starts_at, start.ends_at, start.held_until, zone)
    meeting.changed_at = now
