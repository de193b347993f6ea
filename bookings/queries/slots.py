"""Slots: what can be booked now. Never a stored row."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from accounts.models import Instructor, Student
from bookings.domain.errors import Refused
from bookings.domain.owed import used_until
from bookings.domain.policy import Policy
from bookings.domain.slots import (
    WEEK,
    InstructorTime,
    Slot,
    SlotRequest,
    StudentTime,
    find_slots,
    for_school,
)
from bookings.domain.start_costs import USUAL, Listing
from bookings.domain.vocabulary import Night
from bookings.models import Meeting, Offering
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules
from bookings.queries.policies import policy_in_force
from bookings.queries.student_times import student_time
from bookings.queries.teachable import with_teachable
from bookings.queries.teaching import instructors_for, keeps_hours_whole

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
    use_by: date | None = None,
    people: Sequence[Instructor] | None = None,
    policy: Policy | None = None,
    reading: tuple[datetime, datetime] | None = None,
    listing: Listing = USUAL,
    every: bool = False,
    by_school: bool = False,
) -> Found:
    """Slots in [since, until) for this student: four queries, fewer if the caller has made some.

    The caller may know `people`, all who teach this at that level, and the `policy` in force. The
    time of `moving`, a one-on-one that is to move, counts as free and is not offered again.
    `use_by` is the last date for a make-up lesson; `reading` is a longer stretch that is read as
    well. `every` as in SlotRequest; `by_school` as in `for_school`.
    """
    check_one_on_one(offering)
    policy = policy or policy_in_force(now).rules()
    people = _people_for(offering, student, instructor_id, people)
    read, own_time = _times_around(people, student, *(reading or (since, until)), moving)
    times = with_teachable(read, policy, now=now)
    rules, until = offering_rules(offering, policy), last_for(student, use_by, until)
    slots: list[Slot] = []
    if since < until:
        want = SlotRequest(rules, since, until, earliest, latest, limit, nearest_to, listing, every)
        slots = _to_show(find_slots(want, times, own_time, policy, now), moving, by_school)
    by_id, by_time = {one.pk: one for one in people}, {one.id: one for one in times}
    return Found(slots, by_id, by_time, own_time, policy)


def _to_show(slots: list[Slot], moving: Meeting | None, by_school: bool) -> list[Slot]:
    shown = for_school(slots) if by_school else slots
    if moving is None:
        return shown
    return _others(shown, moving.starts_at, moving.instructor_id)


def last_for(student: Student, use_by: date | None, until: datetime) -> datetime:
    """`until`, or the end of the use-by date of a make-up lesson if that comes before."""
    return until if use_by is None else min(until, used_until(use_by, student.zone))


def check_one_on_one(offering: Offering) -> None:
    """Refused("wrong-kind") for an offering whose meetings are for groups."""
    if not offering.is_one_on_one:
        raise Refused(
            "wrong-kind", "A group meeting has its own time: choose it under group meetings."
        )


def _people_for(
    offering: Offering,
    student: Student,
    instructor_id: int | None,
    known: Sequence[Instructor] | None,
) -> list[Instructor]:
    """Who may teach the student; `known` are all who teach the offering, where they have been read.

    Students who also teach do not teach themselves.
    """
    people = instructors_for(offering, student.level, instructor_id) if known is None else known
    return [
        person
        for person in people
        if person.user_id != student.user_id and instructor_id in (None, person.pk)
    ]


def _times_around(
    people: Sequence[Instructor],
    student: Student,
    since: datetime,
    until: datetime,
    moving: Meeting | None,
) -> tuple[list[InstructorTime], StudentTime]:
    """The times of these instructors and of the student, with every local day of [since, until).

    The time of `moving` counts as free. Where somebody keeps hours whole, the weeks are whole too.
    """
    around = _AHEAD
    if any(keeps_hours_whole(person) for person in people):
        around += WEEK
    first, last = since - around, until + around
    ignoring = (moving.pk,) if moving is not None else ()
    return (
        instructors_time(people, first, last, ignoring=ignoring),
        student_time(student, first, last, ignoring=ignoring, with_hours=True),
    )


def _others(slots: list[Slot], starts_at: datetime, instructor_id: int | None) -> list[Slot]:
    """All slots but the one at that start with that instructor."""
    return [
        slot for slot in slots if (slot.starts_at, slot.instructor_id) != (starts_at, instructor_id)
    ]


def near(
    *,
    offering: Offering,
    student: Student,
    starts_at: datetime,
    now: datetime,
    instructor_id: int | None = None,
    use_by: date | None = None,
    people: Sequence[Instructor] | None = None,
    policy: Policy | None = None,
    by_school: bool = False,
) -> Found:
    """Three slots nearest to a start that was refused, by time; at a hard hour only if all are.

    They are the same instructor's if there are any. The refused start is never among them, even if
    only the student's allowance or consent stands against it. `use_by` as in `slots_for`.
    """
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
            listing=Listing(Night.LAST),
            use_by=use_by,
            people=people,
            policy=policy,
            by_school=by_school,
        )
        others = _others(found.slots, starts_at, instructor_id)
        if others:
            break
    others.sort(key=lambda slot: abs(slot.starts_at - starts_at))
    return replace(found, slots=sorted(others[:NEAR], key=_in_order))


def _in_order(slot: Slot) -> tuple[datetime, int]:
    return slot.starts_at, slot.instructor_id
