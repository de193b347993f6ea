"""Everything that leaving students have ahead: named in a refusal, or ended in the same step."""

from collections.abc import Collection
from datetime import datetime

from accounts.models import Student, User
from bookings.domain.errors import Refused
from bookings.domain.timeline import rfc3339
from bookings.domain.vocabulary import Ended, PlaceKind
from bookings.domain.wall import spoken
from bookings.models import Booking, Meeting, WaitingPlace
from bookings.operations.calling_off import call_off_all
from bookings.operations.locks import hold_teachers, lock_meetings, lock_students
from bookings.operations.places import leave_place
from bookings.operations.proposed_state import end_and_tell
from bookings.operations.waiting import leave_waiting_list
from bookings.operations.weekly import leave_weekly_place
from bookings.queries.commitments import Ahead, ahead_of
from bookings.queries.proposed_times import open_proposals_to

_NAMED = 5


def end_all_ahead(
    *, actor: User, students: Collection[int], why: str | None, now: datetime
) -> Ahead:
    """Ends everything that these students (by id) have ahead, and returns it.

    Times proposed to them end too, and stand in nobody's way: nothing of them is agreed.
    `why` is a sentence for everybody concerned. Weekly places are given up; lessons are called off,
    so nobody is charged for them; group places go to the first in line; waiting places end.
    Refused("has-bookings") with `bookings`, `waiting` and `weekly_places` where `why` is None.
    """
    ahead = lock_ahead(students, now=now)
    end_and_tell(open_proposals_to(students), actor=actor, why=Ended.LEFT, now=now)
    if not ahead:
        return ahead
    if why is None:
        raise _in_the_way(ahead)
    for place in ahead.weekly:
        leave_weekly_place(actor=actor, place=place, said=why, now=now)
    left = ahead_of(students, now=now)  # lessons of weekly places have ended with them
    lessons = [one.meeting for one in left.bookings if one.meeting.offering.is_one_on_one]
    call_off_all(actor=actor, meetings=lessons, why=why, is_owed=False, now=now)
    for booking in left.bookings:
        if not booking.meeting.offering.is_one_on_one:
            leave_place(actor=actor, booking=booking, reason=why, said=why, now=now)
    for waiting in left.waiting:
        leave_waiting_list(
            actor=actor,
            student=waiting.student,
            meeting=waiting.meeting,
            place_kind=PlaceKind(waiting.place_kind),
            now=now,
        )
    return ahead


def lock_ahead(students: Collection[int], *, taught_by: int | None = None, now: datetime) -> Ahead:
    """Reads what these students have ahead, and locks all that its end touches, in lock order.

    `taught_by` is the id of an instructor whose meetings ahead and regular students are locked
    too. The students' locks keep others from booking for them; Refused("conflict") where somebody
    did just before.
    """
    found = ahead_of(students, now=now)
    meetings = found.meetings | _taught(taught_by, now)
    teachers = found.instructors | ({taught_by} if taught_by is not None else set())
    teachers |= _proposers(students)
    hold_teachers(teachers, Student.objects.filter(pk__in=students))
    lock_meetings(meetings)
    lock_students({*students, *_others_in(meetings), *_regular_of(taught_by)})
    held = ahead_of(students, now=now)
    is_known = held.meetings | _taught(taught_by, now) <= meetings
    if not (is_known and _proposers(students) <= teachers):
        raise Refused(
            "conflict", "Something has just been booked for them. Look again, then decide."
        )
    return held


def _taught(instructor_id: int | None, now: datetime) -> set[int]:
    meetings = Meeting.objects.holding_time().ahead(now).taught_by(instructor_id)
    return set(meetings.values_list("pk", flat=True))


def _proposers(students: Collection[int]) -> set[int]:
    """The ids of the instructors who have proposed times to these students."""
    return {proposal.instructor_id for proposal in open_proposals_to(students)}


def _regular_of(instructor_id: int | None) -> set[int]:
    if instructor_id is None:
        return set()
    regular = Student.objects.filter(regular_instructor=instructor_id)
    return set(regular.values_list("pk", flat=True))


def _others_in(meetings: Collection[int]) -> set[int]:
    """The ids of students in these meetings and of those who wait, who may be offered a place."""
    booked = Booking.objects.in_meetings(meetings).live()
    waiting = WaitingPlace.objects.for_meetings(meetings).waiting()
    return {*booked.student_ids(), *waiting.student_ids()}


def _in_the_way(ahead: Ahead) -> Refused:
    times = [
        f"{booking.meeting.offering.name}, {spoken(booking.starts_at, booking.student.zone)}"
        for booking in ahead.bookings
    ]
    times += [f"the waiting list of {place.meeting}" for place in ahead.waiting]
    times += [f"a weekly place, {place}" for place in ahead.weekly]
    more = f"; and {len(times) - _NAMED} more" if len(times) > _NAMED else ""
    return Refused(
        "has-bookings",
        f"This stands in the way: {'; '.join(times[:_NAMED])}{more}. "
        "Say in a sentence why it ends, and everybody in it is told; or move it first.",
        bookings=[
            {
                "id": booking.pk,
                "starts_at": rfc3339(booking.starts_at),
                "standing": booking.standing,
            }
            for booking in ahead.bookings
        ],
        waiting=[
            {"meeting": place.meeting_id, "starts_at": rfc3339(place.meeting.starts_at)}
            for place in ahead.waiting
        ],
        weekly_places=[place.pk for place in ahead.weekly],
    )
