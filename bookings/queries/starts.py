"""One start that a student wants to book: whether it is free, and what else they could book."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from accounts.models import Instructor, Student
from bookings.domain.errors import Refused
from bookings.domain.owed import check_use_by
from bookings.domain.policy import Policy
from bookings.domain.slots import Slot, SlotRequest, find_slots
from bookings.domain.start_costs import Listing
from bookings.domain.timeline import CELL
from bookings.domain.vocabulary import Night
from bookings.models import Booking, Offering, OwedLesson
from bookings.queries.lessons import held_at
from bookings.queries.offerings import offering_rules
from bookings.queries.owed import check_still_owed
from bookings.queries.slots import NEAR, NEAR_REACH, Found, last_for, near, slots_for
from bookings.queries.times import check_open


@dataclass(frozen=True, slots=True)
class WantedStart:
    """What is to be booked. `people` are all who may be chosen to teach the offering then.

    `by_school` says that the school books: beyond the open consultations. `owed` is what the start
    would make up, beyond them too.
    """

    student: Student
    offering: Offering
    instructor: Instructor
    starts_at: datetime
    people: Sequence[Instructor]
    by_school: bool = False
    owed: OwedLesson | None = None

    @property
    def use_by(self) -> date | None:
        """The last date on which the make-up lesson may begin; None where nothing is made up."""
        return self.owed.use_by if self.owed is not None else None

    @property
    def ends_at(self) -> datetime:
        return self.starts_at + timedelta(minutes=self.offering.minutes)


@dataclass(frozen=True, slots=True)
class FoundStart:
    """What was found: the student's own booking of it, or a refusal with near slots, or the other
    instructors' slots at that start.
    """

    booking: Booking | None = None
    refusal: Refused | None = None
    near: list[Slot] = field(default_factory=list)
    others: list[Slot] = field(default_factory=list)


def look_at_start(wanted: WantedStart, policy: Policy, *, now: datetime) -> FoundStart:
    """One start, in four queries at most. The times are read once, also for the near slots.

    A refusal that holds at any time, such as "allowance-used", comes without near slots.
    """
    starts_at = wanted.starts_at
    around = max(now, starts_at - NEAR_REACH), max(now, starts_at) + NEAR_REACH
    found = slots_for(
        offering=wanted.offering,
        student=wanted.student,
        since=starts_at,
        until=starts_at + CELL,
        reading=around,
        every=True,
        now=now,
        people=wanted.people,
        policy=policy,
        listing=Listing(with_never=True),
    )
    booking = _own_booking(wanted, found, now)
    if booking is not None:
        return FoundStart(booking=booking)
    try:
        _check_counts(wanted, policy, now)
    except Refused as refusal:
        return FoundStart(refusal=refusal)
    at_start = {slot.instructor_id: slot for slot in found.slots if slot.starts_at == starts_at}
    if at_start.pop(wanted.instructor.pk, None):
        return FoundStart(others=list(at_start.values()))
    taken = Refused("taken", "That time is not free any more. Choose another below.")
    return FoundStart(refusal=taken, near=_near(wanted, found, around, now))


def _check_counts(wanted: WantedStart, policy: Policy, now: datetime) -> None:
    """Refuses what is not owed any more, or one consultation too many."""
    if wanted.owed is not None:
        check_still_owed(wanted.owed)
        check_use_by(wanted.starts_at, wanted.owed.use_by, wanted.student.zone)
    elif not wanted.by_school:
        check_open(wanted.student, wanted.offering, policy, now=now)


def near_start(wanted: WantedStart, policy: Policy, *, now: datetime) -> list[Slot]:
    """The near slots after a refusal of the start; see `slots.near`."""
    found = near(
        offering=wanted.offering,
        student=wanted.student,
        starts_at=wanted.starts_at,
        now=now,
        instructor_id=wanted.instructor.pk,
        use_by=wanted.use_by,
        people=wanted.people,
        policy=policy,
    )
    return found.slots


def _own_booking(wanted: WantedStart, found: Found, now: datetime) -> Booking | None:
    """The student's own booking of this start. A future one is among the times that were read."""
    is_busy = any(held.starts_at == wanted.starts_at for held in found.student.meetings)
    if wanted.starts_at > now and not is_busy:
        return None
    return held_at(wanted.student, wanted.offering, wanted.instructor, wanted.starts_at)


def _near(
    wanted: WantedStart, found: Found, around: tuple[datetime, datetime], now: datetime
) -> list[Slot]:
    """Three slots nearest to the start, by time; the same instructor's if there are any."""
    since, until = around[0], last_for(wanted.student, wanted.use_by, around[1])
    if until <= since:
        return []
    request = SlotRequest(
        offering_rules(wanted.offering, found.policy),
        since,
        until,
        limit=NEAR + 1,
        nearest_to=wanted.starts_at,
        listing=Listing(Night.LAST),
    )
    refused, everybody = (wanted.starts_at, wanted.instructor.pk), list(found.times.values())
    for times in ([time for time in everybody if time.id == wanted.instructor.pk], everybody):
        slots = find_slots(request, times, found.student, found.policy, now)
        others = [slot for slot in slots if (slot.starts_at, slot.instructor_id) != refused]
        if others:
            break
    others.sort(key=lambda slot: abs(slot.starts_at - wanted.starts_at))
    return sorted(others[:NEAR], key=lambda slot: (slot.starts_at, slot.instructor_id))
