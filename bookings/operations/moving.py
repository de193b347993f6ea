"""Moving one-on-ones under the locks: one, or two of a family that are next to each other."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime, timedelta

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.access import acts_as_school
from bookings.domain.errors import Refused
from bookings.domain.proposed_times import decline_by
from bookings.domain.vocabulary import Standing
from bookings.models import Booking, Meeting, MoveRequest
from bookings.operations.audit import record
from bookings.operations.booking_state import (
    check_not_ended,
    check_notice,
    close_move_requests,
    current_booking,
)
from bookings.operations.locks import hold_teachers, lock_meetings, lock_students
from bookings.operations.making_up import check_moves_in_time
from bookings.operations.starts import check_has_offset, judge_start, move_to_start
from bookings.operations.versions import check_version
from bookings.queries.siblings import are_beside


def move_pair(
    *,
    actor: User,
    booking: Booking,
    sibling: Booking,
    starts_at: datetime,
    instructor: Instructor | None = None,
    version: int | None = None,
    sibling_version: int | None = None,
    now: datetime,
) -> Booking:
    """Moves a lesson to another start, and the `sibling`'s next to it by the same step, or neither.

    Each is judged as in `move_slot`. Refused: "stale" by each version, and "conflict" where the two
    are not next to each other, or nobody gets the emails about both.
    """
    check_has_offset(starts_at)
    taught_by = booking.meeting.instructor
    pair = lock_lessons([booking, sibling], instructor or taught_by)
    lesson, beside = pair
    check_version(lesson, version)
    check_version(beside, sibling_version)
    _check_is_pair(lesson, beside, now)
    step, old_starts = starts_at - lesson.starts_at, [row.starts_at for row in pair]
    # Whichever goes ahead in the direction of the move makes room for the other.
    first, second = sorted(pair, key=lambda row: row.starts_at, reverse=step > timedelta())
    for row, free in ((first, [second.meeting]), (second, [])):
        with _naming(row.student):
            move_lesson(
                row,
                row.starts_at + step,
                instructor or taught_by,
                taught_by=taught_by,
                free=free,
                actor=actor,
                now=now,
            )
    messages = notices.pair_moved(pair, old_starts=old_starts, old_instructor=taught_by, now=now)
    outbox.enqueue(messages, now=now)
    return lesson


def lock_lessons(bookings: Sequence[Booking], instructor: Instructor) -> list[Booking]:
    """These bookings as they stand under the locks, each with its meeting and student locked.

    Also locked are their instructors, and the one to whom they would move.
    """
    teachers = {instructor.pk, *(row.meeting.instructor_id for row in bookings)}
    hold_teachers(teachers, [row.student for row in bookings])
    meetings = lock_meetings([row.meeting_id for row in bookings])
    students = lock_students([row.student_id for row in bookings])
    lessons = [current_booking(row, version=None) for row in bookings]
    for lesson in lessons:
        lesson.meeting = meetings[lesson.meeting_id]
        lesson.student = students[lesson.student_id]
    return lessons


def move_lesson(
    lesson: Booking,
    starts_at: datetime,
    instructor: Instructor,
    *,
    taught_by: Instructor,
    free: Sequence[Meeting] = (),
    answering: MoveRequest | None = None,
    actor: User,
    now: datetime,
) -> None:
    """Judges and writes the move of a lesson from `lock_lessons`; tells nobody.

    `taught_by` is the instructor of whom the caller read that they teach it. The time of the
    meetings `free` counts as free. Refused as `judge_start`, "wrong-kind", "already-ended",
    "conflict", "past" and, for a family that comes too late, "notice-passed".
    """
    _check_moves(lesson, taught_by)
    by_school = acts_as_school(actor, lesson.student)
    # The cancellation deadline binds a family, unless the instructor grants their request.
    if by_school or answering is not None:
        check_not_ended(lesson, now)
    else:
        check_notice(lesson, now)
    check_moves_in_time(lesson, starts_at)
    start = judge_start(
        offering=lesson.meeting.offering,
        instructor=instructor,
        student=lesson.student,
        starts_at=starts_at,
        now=now,
        moving=[lesson.meeting, *free],
        by_school=by_school,
    )
    is_the_schools = by_school and answering is None
    lesson.decline_by = decline_by(now, starts_at) if is_the_schools else None
    move_to_start(lesson, lesson.meeting, start, now=now)
    close_move_requests(lesson, answering=answering, now=now)
    record(actor=actor, verb="moved", thing=lesson, fields=["starts_at", "instructor"], now=now)


def _check_moves(lesson: Booking, taught_by: Instructor) -> None:
    if not lesson.meeting.offering.is_one_on_one:
        raise Refused(
            "wrong-kind",
            "A place in a group meeting moves to another meeting, not to another time.",
        )
    if lesson.standing != Standing.HELD or lesson.meeting.is_cancelled:
        raise Refused("already-ended", "This booking has ended; book a new time instead.")
    if lesson.meeting.instructor_id != taught_by.pk:
        raise Refused(
            "conflict",
            "This lesson has just moved to another instructor. Read it again, then decide.",
        )


def _check_is_pair(lesson: Booking, beside: Booking, now: datetime) -> None:
    """Two lessons next to each other, of two students about whom one person gets the emails."""
    places = notices.by_reader([lesson, beside], now).values()
    is_told_of_both = any(len(theirs) == 2 for theirs in places)
    is_another = lesson.student_id != beside.student_id
    if not (is_another and are_beside(lesson, beside) and is_told_of_both):
        raise Refused(
            "conflict",
            "These two lessons are not next to each other, or not of one family. "
            "Move each by itself.",
            field="with_sibling",
        )


@contextmanager
def _naming(student: Student) -> Iterator[None]:
    """A refusal of one of two lessons says whose lesson it is."""
    try:
        yield
    except Refused as refusal:
        who = student.first_name
        said = f"{who}’s lesson cannot move, so neither has moved. {refusal.detail}"
        raise Refused(refusal.code, said, **refusal.data) from None
