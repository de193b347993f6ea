"""A masterclass lasts as long as its order of players: it ends later where that is free."""

from collections.abc import Sequence
from copy import copy
from dataclasses import replace
from datetime import datetime, timedelta

from django.db.models import F

from bookings.domain.errors import Refused
from bookings.domain.group_starts import may_allow, to_be_allowed
from bookings.domain.zones import place, zone
from bookings.models import Booking, Meeting
from bookings.operations.consents import check_minor_hours
from bookings.queries.instructor_times import instructors_time
from bookings.queries.lengthening import held_elsewhere, next_learnt, next_taught
from bookings.queries.offerings import offering_rules
from bookings.queries.policies import policy_in_force


def check_may_end(
    meeting: Meeting, held: Sequence[Booking], ends_at: datetime, *, now: datetime
) -> None:
    """Whether the meeting may end at `ends_at`, which may be where it ends anyway. `held` are all
    the places that students hold in it.

    Refused, with the name of what stands in the way: "taken" where the instructor has another
    meeting before the changeover is over, "own-clash" where a student has, "instructor-may-allow"
    where the longer meeting breaks their hours or load and this one does not, and as
    `check_minor_hours`.
    """
    if ends_at <= meeting.ends_at:
        return
    later = _ending(meeting, ends_at)
    _check_instructor(later)
    clashing = held_elsewhere(meeting, [booking.student for booking in held], ends_at)
    if clashing:
        who = ", ".join(student.full_name for student in clashing)
        raise Refused(
            "own-clash",
            f"This order ends at {_clock(meeting, ends_at)}, and these have another lesson or "
            f"meeting before that: {who}. Shorten the turns.",
        )
    _check_hours_and_load(meeting, later, now)
    policy = policy_in_force(now)
    for booking in held:
        check_minor_hours(booking.student, later, policy)


def _check_instructor(later: Meeting) -> None:
    taught, learnt = next_taught(later, later.held_until), next_learnt(later, later.held_until)
    other = taught or (learnt.meeting if learnt else None)
    if other is None:
        return
    raise Refused(
        "taken",
        f"This order ends at {_clock(later, later.ends_at)}, and {later.instructor} has another "
        f"meeting at {_clock(later, other.starts_at)}: {other.title or other.offering.name}, "
        "changeover included. Shorten the turns.",
    )


def _check_hours_and_load(meeting: Meeting, later: Meeting, now: datetime) -> None:
    """What the instructor has allowed already, and what this length breaks, is no new question."""
    policy = policy_in_force(now).rules()
    around = timedelta(days=1)
    (time,) = instructors_time(
        [meeting.instructor],
        meeting.starts_at - around,
        later.held_until + around,
        ignoring=(meeting.pk,),
    )
    name, at = str(meeting.instructor), meeting.starts_at
    rules = replace(
        offering_rules(meeting.offering, policy),
        changeover_minutes=(meeting.held_until - meeting.ends_at) // timedelta(minutes=1),
    )
    short, long = (replace(rules, minutes=one.minutes) for one in (meeting, later))
    known = {reason.code for reason in to_be_allowed(at, short, time, policy, name)}
    found = to_be_allowed(at, long, time, policy, name)
    new = [reason for reason in found if reason.code not in known]
    if new:
        raise may_allow(new, at, long, time, name)


def _clock(meeting: Meeting, instant: datetime) -> str:
    return f"{instant.astimezone(zone(meeting.zone)):%H:%M} ({place(meeting.zone)})"


def _ending(meeting: Meeting, ends_at: datetime) -> Meeting:
    """The same meeting with this end and the same changeover, not saved."""
    later = copy(meeting)
    _end(later, ends_at)
    return later


def _end(meeting: Meeting, ends_at: datetime) -> None:
    changeover = meeting.held_until - meeting.ends_at
    meeting.ends_at, meeting.held_until = ends_at, ends_at + changeover
    meeting.minutes = (ends_at - meeting.starts_at) // timedelta(minutes=1)


def lengthen(meeting: Meeting, ends_at: datetime, *, now: datetime) -> None:
    """Ends the meeting at `ends_at`, which `check_may_end` allows, with every place in it.

    The caller holds the locks of the instructor, the meeting and those in it, and counts the
    version.
    """
    _end(meeting, ends_at)
    meeting.sequence += 1
    meeting.changed_at = now
    meeting.save(update_fields=["ends_at", "held_until", "minutes", "sequence", "changed_at"])
    live = Booking.objects.in_meetings([meeting]).live()
    live.update(ends_at=ends_at, version=F("version") + 1)
