"""Who may join a group meeting or its waiting list: the locks and the rules of both."""

from datetime import datetime

from accounts.models import Student, User
from bookings.domain.errors import Refused
from bookings.domain.joining import check_choice, check_joins
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Meeting, WaitingPlace
from bookings.operations.locks import lock_meeting, lock_students
from bookings.queries.joining import joinable, joiner_of
from bookings.queries.student_times import student_time


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
    student: Student,
    meeting: Meeting,
    place_kind: PlaceKind,
    *,
    actor: User,
    clash: bool = True,
    now: datetime,
) -> None:
    """Every rule of domain.joining; an admin places students of any level.

    Without `clash` the student waits or applies. Where the school chooses the players, only an
    admin gives a player place.
    """
    rules = joinable([meeting])[meeting.pk]
    check_joins(
        joiner_of(student, [meeting], now=now),
        rules,
        place_kind,
        any_level=actor.is_staff,
        clash=clash,
        now=now,
    )
    if clash and actor.is_staff:
        return
    check_choice(rules, place_kind, applies=not clash)


def check_is_free(student: Student, meeting: Meeting, *, moving: int | None = None) -> None:
    """Refused("own-clash") where the student has another meeting at that time.

    `moving` is the id of a lesson that would move there.
    """
    ignoring = (moving or meeting.pk,)
    time = student_time(student, meeting.starts_at, meeting.ends_at, ignoring=ignoring)
    if time.meetings:
        raise Refused(
            "own-clash",
            "The student already has a lesson or meeting at that time: move or cancel it first.",
        )
