"""Proposed times: an instructor holds up to three starts for a student, who takes one or none."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.proposed_times import check_apart, check_count, proposal_answer_by
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Ended
from bookings.models import Booking, MoveRequest, Offering, ProposedTimes
from bookings.operations.audit import record
from bookings.operations.booking import check_is_bookable
from bookings.operations.consents import require_consent
from bookings.operations.locks import hold_teachers, lock_meetings, lock_students
from bookings.operations.making_up import check_moves_in_time
from bookings.operations.move_requests import unanswered_request
from bookings.operations.proposed_state import end_and_tell, hold_time
from bookings.operations.starts import AllowedStart, judge_start
from bookings.operations.versions import check_version


@dataclass(frozen=True, slots=True)
class Held:
    """A proposal with its times, held and not told to anybody yet."""

    proposal: ProposedTimes
    times: Sequence[Booking]


def propose_times(
    *,
    actor: User,
    student: Student,
    offering: Offering,
    instructor: Instructor,
    starts: Sequence[datetime],
    now: datetime,
) -> ProposedTimes:
    """Holds these starts for the student, and asks the family which one suits.

    Refused as `hold_times`.
    """
    held = hold_times(
        actor=actor,
        student=student,
        offering=offering,
        instructor=instructor,
        starts=starts,
        now=now,
    )
    _tell(held, now)
    return held.proposal


def hold_times(
    *,
    actor: User,
    student: Student,
    offering: Offering,
    instructor: Instructor,
    starts: Sequence[datetime],
    now: datetime,
) -> Held:
    """Holds these starts for the student. The caller tells the family.

    Each is judged as a booking by the school. Refused: as `book_slot`, `check_count`, `check_apart`
    and `proposal_answer_by`.
    """
    check_is_bookable(offering)
    hold_teachers([instructor.pk], [student])
    locked = lock_students([student.pk])[student.pk]
    proposal = ProposedTimes(student=locked, offering=offering, instructor=instructor)
    return _hold(actor, proposal, starts, now)


def propose_other_times(
    *, actor: User, request: MoveRequest, starts: Sequence[datetime], now: datetime
) -> ProposedTimes:
    """Answers a request to move with other times; taking one of them moves the lesson.

    Refused as `propose_times`, as `unanswered_request`, and "taken" for a time that overlaps the
    lesson itself.
    """
    lesson = request.booking
    hold_teachers([lesson.meeting.instructor_id], [lesson.student])
    meeting = lock_meetings([lesson.meeting_id])[lesson.meeting_id]
    locked = lock_students([lesson.student_id])[lesson.student_id]
    current = unanswered_request(request)
    current.booking.meeting = meeting
    proposal = ProposedTimes(
        student=locked,
        offering=meeting.offering,
        instructor=meeting.instructor,
        move_request=current,
    )
    held = _hold(actor, proposal, starts, now)
    _tell(held, now)
    current.state, current.answered_at = MoveRequest.State.PROPOSED, now
    current.save(update_fields=["state", "answered_at"])
    return held.proposal


def _hold(actor: User, proposal: ProposedTimes, starts: Sequence[datetime], now: datetime) -> Held:
    """Judges and holds all starts. The caller has locked the instructor and the student."""
    student, request = proposal.student, proposal.move_request
    check_count(starts, Booking.objects.proposed().of(student).count())
    require_consent(student, now=now)
    lesson = request.booking.meeting if request is not None else None
    if request is not None:
        for starts_at in starts:
            check_moves_in_time(request.booking, starts_at)
    judged = [
        judge_start(
            offering=proposal.offering,
            instructor=proposal.instructor,
            student=student,
            starts_at=starts_at,
            now=now,
            moving=[lesson] if lesson is not None else [],
            by_school=True,
        )
        for starts_at in starts
    ]
    own = [Period(lesson.starts_at, lesson.held_until)] if lesson is not None else []
    check_apart([*own, *(Period(start.starts_at, start.held_until) for start in judged)])
    # A lesson that would move has to wait for the answer, too.
    until = [*starts, *(period.starts_at for period in own)]
    proposal.made_by, proposal.made_at = actor, now
    proposal.answer_by = proposal_answer_by(now, until, student.zone)
    return _write(actor, proposal, judged, now)


def _write(
    actor: User, proposal: ProposedTimes, judged: Sequence[AllowedStart], now: datetime
) -> Held:
    proposal.save(force_insert=True)
    in_order = sorted(judged, key=lambda start: start.starts_at)
    times = [hold_time(proposal, start, actor=actor, now=now) for start in in_order]
    record(actor=actor, verb="proposed times", thing=proposal, now=now)
    outbox.bump_feeds([proposal.instructor.user_id], now=now)
    return Held(proposal, times)


def _tell(held: Held, now: datetime) -> None:
    outbox.enqueue(notices.times_proposed([(held.proposal, held.times)], now=now), now=now)


def decline_times(
    *, actor: User, proposal: ProposedTimes, version: int | None = None, now: datetime
) -> ProposedTimes:
    """None of the times suits the family. The instructor is told, and a lesson to move stays.

    Refused: "offer-ended", "stale".
    """
    current = lock_proposal(proposal, version=version, now=now)
    end_and_tell([current], actor=actor, why=Ended.DECLINED, now=now)
    return current


def withdraw_times(
    *, actor: User, proposal: ProposedTimes, version: int | None = None, now: datetime
) -> ProposedTimes:
    """Takes the times back for the instructor. The family is told. Refused as `decline_times`."""
    current = lock_proposal(proposal, version=version, now=now)
    end_and_tell([current], actor=actor, why=Ended.REMOVED, now=now)
    return current


def lapse_proposals(*, now: datetime) -> int:
    """Ends all proposals whose time to answer is over; returns how many."""
    due = ProposedTimes.objects.lapsed_by(now)
    lapsed = _lock_all(list(due.values_list("pk", flat=True)))
    end_and_tell(lapsed, actor=None, why=Ended.LAPSED, now=now)
    return len(lapsed)


def lock_proposal(proposal: ProposedTimes, *, version: int | None, now: datetime) -> ProposedTimes:
    """The open proposal, with its instructor, times and student locked in lock order.

    Refused: "stale", "offer-ended" once it is answered, withdrawn or due.
    """
    found = _lock_all([proposal.pk])
    if not found:
        raise Refused("offer-ended", "These times have been answered or taken back.")
    check_version(found[0], version)
    if now >= found[0].answer_by:
        raise Refused("offer-ended", "The time to answer has passed. Ask for other times.")
    return found[0]


def _lock_all(ids: Collection[int]) -> list[ProposedTimes]:
    """Those of these proposals that are open under their locks, by answer-by."""
    rows = ProposedTimes.objects.filter(pk__in=ids)
    people = list(rows.values_list("instructor_id", "student_id", "move_request__booking__meeting"))
    students = Student.objects.filter(pk__in={student for _, student, _ in people})
    hold_teachers({instructor for instructor, _, _ in people}, students)
    times = Booking.objects.filter(proposed__in=ids).values_list("meeting_id", flat=True)
    lock_meetings({*times, *(lesson for _, _, lesson in people if lesson is not None)})
    lock_students({student for _, student, _ in people})
    details = ("student__user", "offering", "instructor__user", "move_request__booking__meeting")
    return list(rows.unanswered().select_related(*details))
