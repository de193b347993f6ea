"""What the solver is given to find who covers an instructor's lessons."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from django.db.models import F

from accounts.models import Instructor
from bookings.domain.errors import Refused
from bookings.domain.hours import window_periods
from bookings.domain.parties import InstructorTime
from bookings.domain.planning.cover import CoverProblem, Lesson, Substitute
from bookings.domain.planning.cover import Teaches as TeachesLevels
from bookings.domain.timeline import Horizon, Period
from bookings.domain.vocabulary import MeetingStatus
from bookings.models import (
    ONE_ON_ONE,
    Booking,
    BookingQuerySet,
    CoverQuestion,
    CoverQuestionQuerySet,
    Teaches,
)
from bookings.queries.held_time import REACH
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import teaching_now
from bookings.queries.planning.versions import seen_now
from bookings.queries.policies import policy_in_force

MOST_DAYS = 14


def cover_named(asked: Mapping[str, Any]) -> tuple[Instructor, Period]:
    """The instructor and the stretch of hours that a request names. Refused("invalid")."""
    ill = teaching_now().filter(pk=asked["instructor"]).select_related("week").first()
    if ill is None:
        raise Refused("invalid", "Choose an instructor who teaches here.", field="instructor")
    since, until = (datetime.fromisoformat(asked[name]) for name in ("starts_at", "ends_at"))
    if until <= since:
        raise Refused("end-before-start", "Choose an end after the start.", field="ends_at")
    if until - since > timedelta(days=MOST_DAYS):
        raise Refused("invalid", f"Choose at most {MOST_DAYS} days.", field="ends_at")
    return ill, Period(since, until)


def lessons_to_cover(instructor: Instructor, hours: Period, now: datetime) -> list[Booking]:
    """The one-on-ones of the instructor that start in these hours and have not begun."""
    return list(_held(hours.starts_at, hours.ends_at, now).taught_by(instructor))


def read_cover(
    asked: Mapping[str, Any], *, now: datetime
) -> tuple[CoverProblem, dict[str, int | str]]:
    """The problem and the versions of what was read for it: as many queries for any number of
    lessons and instructors.

    Lessons of others that lie in or near these hours may change hands to make room, unless they
    are flagged.
    """
    ill, hours = cover_named(asked)
    others = _others_than(ill)
    near = _held(hours.starts_at - REACH, hours.ends_at + REACH, now)
    own = list(near.filter(meeting__instructor__in=others, meeting__is_flagged=False))
    problem = _problem(lessons_to_cover(ill, hours, now), own, others, hours, now)
    return problem, seen_now(instructors=[ill, *others])


def read_plain_cover(lessons: Sequence[Booking], hours: Period, *, now: datetime) -> CoverProblem:
    """Who could take these lessons of one instructor within their hours and load. No lesson of
    theirs makes room.
    """
    others = _others_than(lessons[0].meeting.instructor) if lessons else []
    return replace(_problem(lessons, [], others, hours, now), only_plain=True)


def _others_than(instructor: Instructor) -> list[Instructor]:
    others = teaching_now().exclude(pk=instructor.pk)
    return list(others.select_related("week").order_by("pk"))


def _problem(
    lessons: Sequence[Booking],
    own: Sequence[Booking],
    others: Sequence[Instructor],
    hours: Period,
    now: datetime,
) -> CoverProblem:
    """The lessons to cover, and the others with their `own` lessons that may change hands."""
    since, until = hours.starts_at - REACH, hours.ends_at + REACH
    people = _People.of([*lessons, *own], others, now)
    ignoring = tuple(booking.meeting_id for booking in own)
    times = instructors_time(others, since, until, ignoring=ignoring)
    horizon = Horizon.spanning(since, until)
    return CoverProblem(
        tuple(people.lesson(booking) for booking in lessons),
        tuple(
            people.substitute(other, time, horizon)
            for other, time in zip(others, times, strict=True)
        ),
        policy_in_force(now).rules(),
    )


def _held(since: datetime, until: datetime, now: datetime) -> BookingQuerySet:
    """Confirmed one-on-ones ahead that start in [since, until)."""
    rows = Booking.objects.held().ahead(now).with_details()
    rows = rows.filter(
        meeting__status=MeetingStatus.CONFIRMED, meeting__offering__kind__in=ONE_ON_ONE
    )
    return rows.filter(starts_at__gte=since, starts_at__lt=until).order_by("starts_at", "pk")


@dataclass(frozen=True, slots=True)
class _People:
    """What is known of the students of these lessons and of who could teach them."""

    bookings: Sequence[Booking]
    met: Mapping[int, set[int]]
    teaches: Mapping[int, list[TeachesLevels]]
    said: Mapping[tuple[int, bool], list[int]]

    @classmethod
    def of(
        cls, bookings: Sequence[Booking], others: Collection[Instructor], now: datetime
    ) -> "_People":
        teaches: dict[int, list[TeachesLevels]] = defaultdict(list)
        levels = ("instructor_id", "offering_id", "lowest_level", "highest_level")
        for pk, *of in Teaches.objects.filter(instructor__in=others).values_list(*levels):
            teaches[pk].append(TeachesLevels(*of))
        return cls(bookings, _met(bookings, now), teaches, _said(bookings))

    def lesson(self, booking: Booking) -> Lesson:
        meeting = booking.meeting
        changeover = meeting.held_until - meeting.ends_at
        return Lesson(
            id=meeting.pk,
            student_id=booking.student_id,
            starts_at=meeting.starts_at,
            minutes=meeting.minutes,
            changeover_minutes=changeover // timedelta(minutes=1),
            offering_id=meeting.offering_id,
            level=booking.student.level,
            met=tuple(sorted(self.met.get(booking.student_id, ()))),
        )

    def substitute(
        self, instructor: Instructor, time: InstructorTime, horizon: Horizon
    ) -> Substitute:
        """Nobody teaches themselves: such a lesson counts as refused."""
        pk = instructor.pk
        learns = [
            booking.meeting_id
            for booking in self.bookings
            if booking.student.user_id == instructor.user_id
        ]
        return Substitute(
            instructor_id=pk,
            time_zone=time.time_zone,
            teaches=tuple(self.teaches.get(pk, ())),
            hours=window_periods(time.teaching, horizon),
            meetings=time.meetings,
            busy=time.busy,
            taught=time.taught,
            lessons=tuple(
                self.lesson(booking)
                for booking in self.bookings
                if booking.meeting.instructor_id == pk
            ),
            says_yes=tuple(self.said.get((pk, True), ())),
            says_no=(*self.said.get((pk, False), ()), *learns),
        )


def _met(bookings: Iterable[Booking], now: datetime) -> dict[int, set[int]]:
    """The instructors who have taught each of these students: one query."""
    found: dict[int, set[int]] = defaultdict(set)
    students = {booking.student_id for booking in bookings}
    rows = Booking.objects.seen(now).filter(student__in=students).order_by()
    for student, instructor in rows.values_list("student", "meeting__instructor").distinct():
        found[student].add(instructor)
    return found


def who_said_yes(bookings: Iterable[Booking]) -> set[tuple[int, int]]:
    """(meeting, instructor), by id, of everybody who has agreed to take one of these lessons."""
    return {(row.meeting_id, row.instructor_id) for row in _answers(bookings) if row.says_yes}


def _said(bookings: Iterable[Booking]) -> dict[tuple[int, bool], list[int]]:
    """The lessons to which an instructor has said yes (True) or no: one query."""
    found: dict[tuple[int, bool], list[int]] = defaultdict(list)
    for row in _answers(bookings):
        found[row.instructor_id, bool(row.says_yes)].append(row.meeting_id)
    return found


def _answers(bookings: Iterable[Booking]) -> CoverQuestionQuerySet:
    """The answers of substitutes about these lessons, where the lesson is still at that time."""
    meetings = [booking.meeting_id for booking in bookings]
    rows = CoverQuestion.objects.answered().filter(meeting__in=meetings)
    return rows.filter(starts_at=F("meeting__starts_at"))
