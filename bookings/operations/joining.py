"""Who may join a group meeting or its waiting list: the locks and the rules of both."""

from datetime import datetime

from django.db.models import Q

from accounts.models import Student
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlaceKind, Standing
from bookings.models import Booking, Meeting, StudioPolicy, WaitingPlace
from bookings.operations.consents import check_consent, check_hours
from bookings.operations.locks import lock_meeting, lock_students
from bookings.queries.teaching import policy_in_force, student_time


def lock_to_join(
    meeting: Meeting, student: Student, version: int | None = None
) -> tuple[Meeting, Student]:
    """The meeting and the student, locked with all who wait. Refused("stale") by `version`."""
    locked = lock_meeting(meeting.pk, version=version)
    return locked, lock_queue(locked, student.pk)[student.pk]


def lock_queue(meeting: Meeting, student_id: int) -> dict[int, Student]:
    """This student and all who wait, locked in one step.

    A place that the student frees is offered to the others in the same transaction.
    """
    waiting = WaitingPlace.objects.for_meetings([meeting]).waiting()
    return lock_students([student_id, *waiting.student_ids()])


def check_may_join(
    student: Student, meeting: Meeting, place_kind: PlaceKind, *, now: datetime
) -> StudioPolicy:
    """Every rule of a group meeting except a free place and a free student; returns the policy.

    Refused: "wrong-kind", "already-ended", "past", "already-booked", "no-place", and as
    `check_consent` and `check_hours`.
    """
    if meeting.offering.is_one_on_one:
        raise Refused("wrong-kind", "A one-on-one is booked by its time.")
    if meeting.is_cancelled:
        raise Refused("already-ended", "This meeting has been called off.")
    if meeting.starts_at <= now:
        raise Refused("past", "This meeting has begun.")
    check_consent(student, now=now)
    policy = policy_in_force(now)
    check_hours(student, meeting, policy)
    same_or_better = Q(place_kind=place_kind)
    same_or_better |= Q(place_kind=PlaceKind.PLAYER, standing=Standing.HELD)
    places = Booking.objects.of(student).live().filter(meeting=meeting)
    if places.filter(same_or_better).exists():
        raise Refused("already-booked", "The student already has a place in this meeting.")
    if meeting.places_for(place_kind) == 0:
        raise Refused("no-place", f"This meeting has no {place_kind.value} places.")
    return policy


def check_is_free(student: Student, meeting: Meeting) -> None:
    """Refused("own-clash") where the student has another meeting at that time."""
    time = student_time(student, meeting.starts_at, meeting.ends_at, ignoring=meeting.pk)
    if time.meetings:
        raise Refused(
            "own-clash", "The student already has a meeting at that time: move or cancel it first."
        )
