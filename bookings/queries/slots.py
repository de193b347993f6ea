"""Slots: what can be booked now. Never a stored row."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from accounts.models import Instructor, Student
from bookings.domain.errors import Refused
from bookings.domain.policy import Policy
from bookings.domain.slots import InstructorTime, Slot, SlotRequest, StudentTime, find_slots
from bookings.models import Meeting, Offering
from bookings.queries.expanded import with_expanded
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules, open_offerings, shortest_minutes
from bookings.queries.policies import policy_in_force
from bookings.queries.student_times import student_time
from bookings.queries.teaching import instructors_for

NEAR = 3
NEAR_REACH = timedelta(days=14)
_AHEAD = timedelta(hours=14)  # zones reach from -12 to +14: a local day may begin that much earlier


@dataclass(frozen=True, slots=True)
class Found:
    """Slots with what a page needs to draw them: whose they are and the time they were found in."""

    slots: list[Slot]
    instructors: dict[int, Instructor]
    times: dict[int, InstructorTime]
    student: StudentTime
    policy: Policy


class StartRefused(Refused):
    """A refusal of one start, with the slots `around` it among which it was judged."""

    def __init__(self, refusal: Refused, around: Found) -> None:
        super().__init__(refusal.code, refusal.detail, **refusal.data)
        self.around = around


def slots_for(
    *,
    offering: Offering,
    student: Student,
    since: datetime,
    until: datetime,
    now: datetime,
    instructor_id: int | None = None,
    earliest: int | None = None,
    latest: int | None = None,
    limit: int | None = None,
    nearest_to: datetime | None = None,
    moving: Meeting | None = None,
    offerings: Sequence[Offering] | None = None,
    people: Sequence[Instructor] | None = None,
    policy: Policy | None = None,
) -> Found:
    """Slots in [since, until) for this student: six queries, one less for each that the caller knows.

    Known may be `offerings`, all that are open, `people`, all who teach this one at that level, and the `policy` in
    force. `moving` is the student's one-on-one being moved: its own time counts as free, but is not offered again.
    """
    if not offering.is_one_on_one:
        raise Refused(
            "wrong-kind", "A group meeting has its own time: choose it under group meetings."
        )
    policy = policy or policy_in_force(now).rules()
    if people is None:
        people = instructors_for(offering, student.level, instructor_id)
    people = [
        person
        for person in people
        if person.user_id != student.user_id and instructor_id in (None, person.pk)
    ]
    ignoring = moving.pk if moving is not None else None
    times = with_expanded(
        instructors_time(people, since - _AHEAD, until + _AHEAD, ignoring=ignoring), policy, now=now
    )
    her_time = student_time(student, since - _AHEAD, until + _AHEAD, ignoring=ignoring)
    shortest = shortest_minutes(open_offerings() if offerings is None else offerings, policy)
    request = SlotRequest(
        offering_rules(offering, policy),
        since,
        until,
        earliest,
        latest,
        limit,
        shortest,
        nearest_to,
    )
    slots = find_slots(request, times, her_time, policy, now)
    if moving is not None:
        present = (moving.starts_at, moving.instructor_id)
        slots = [slot for slot in slots if (slot.starts_at, slot.instructor_id) != present]
    return Found(
        slots=slots,
        instructors={person.pk: person for person in people},
        times={time.id: time for time in times},
        student=her_time,
        policy=policy,
    )


def near(
    *,
    offering: Offering,
    student: Student,
    starts_at: datetime,
    now: datetime,
    instructor_id: int | None = None,
    offerings: Sequence[Offering] | None = None,
    people: Sequence[Instructor] | None = None,
    policy: Policy | None = None,
) -> Found:
    """Three slots nearest to a start that was refused, in order of time, the same instructor's where there are any.

    The refused one is none of them, though nothing but the student's own allowance or consent may stand against it.
    """
    refused = (starts_at, instructor_id)
    since, until = max(now, starts_at - NEAR_REACH), max(now, starts_at) + NEAR_REACH
    for whom in dict.fromkeys((instructor_id, None)):
        found = slots_for(
            offering=offering,
            student=student,
            now=now,
            instructor_id=whom,
            since=since,
            until=until,
            nearest_to=starts_at,
            limit=NEAR + 1,
            offerings=offerings,
            people=people,
            policy=policy,
        )
        others = [slot for slot in found.slots if (slot.starts_at, slot.instructor_id) != refused]
        if others:
            break
    others.sort(key=lambda slot: abs(slot.starts_at - starts_at))
    return replace(found, slots=sorted(others[:NEAR], key=_in_order))


def _in_order(slot: Slot) -> tuple[datetime, int]:
    return slot.starts_at, slot.instructor_id
