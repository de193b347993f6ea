"""Every handover of a cover, judged again as things stand under the locks."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from accounts.models import Instructor, Student
from bookings.domain.covering import check_cover
from bookings.domain.errors import Refused
from bookings.domain.parties import InstructorTime
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period
from bookings.models import Booking
from bookings.operations.covering import GivenLesson
from bookings.operations.starts import teacher_for
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules
from bookings.queries.planning.cover import who_said_yes
from bookings.queries.policies import policy_in_force

Row = Mapping[str, Any]
_AROUND = timedelta(days=1)
_WHY = {
    "already-ended": "{student}’s lesson has moved or ended.",
    "past": "{student}’s lesson has begun.",
    "not-taught": "{to} does not teach {student}’s lesson any more.",
    "outside-hours": "{student}’s lesson lies outside the hours that {to} teaches now.",
}
_NOT_FREE = "{to} is not free for {student}’s lesson any more."


def conflicts_of(
    rows: Sequence[Row], lessons: Mapping[int, Booking], *, now: datetime
) -> tuple[list[dict[str, Any]], list[GivenLesson]]:
    """What stands against each handover, and the handovers against which nothing stands.

    All are judged as if all were done: time that one of them frees is free for another.
    """
    takers = Instructor.objects.select_related("user", "week").in_bulk([row["to"] for row in rows])
    students = Student.objects.select_related("user").in_bulk([row["student"] for row in rows])
    times = _Times(rows, lessons, list(takers.values()), now)
    conflicts, given = [], []
    for row in rows:
        try:
            given.append(_judged(row, lessons.get(row["meeting"]), takers[row["to"]], times, now))
        except Refused as refusal:
            words = _WHY.get(refusal.code, _NOT_FREE)
            conflicts.append(
                {
                    "meeting": row["meeting"],
                    "starts_at": row["starts_at"],
                    "instructor": row["to"],
                    "code": refusal.code,
                    "detail": words.format(student=students[row["student"]], to=takers[row["to"]]),
                }
            )
    return conflicts, given


def _judged(
    row: Row, lesson: Booking | None, to: Instructor, times: "_Times", now: datetime
) -> GivenLesson:
    if lesson is None or lesson.meeting.is_cancelled or not _is_unchanged(row, lesson):
        raise Refused("already-ended", "This lesson has moved or ended.")
    if lesson.starts_at <= now:
        raise Refused("past", "This lesson has begun.")
    teacher = teacher_for(lesson.meeting.offering, to, lesson.student)
    has_yes = (row["meeting"], row["to"]) in times.said_yes
    rules = replace(
        offering_rules(lesson.meeting.offering, times.policy),
        minutes=lesson.meeting.minutes,
        changeover_minutes=(lesson.meeting.held_until - lesson.ends_at) // timedelta(minutes=1),
    )
    time = times.beside(row)
    check_cover(lesson.starts_at, rules, time, times.policy, now, has_yes=has_yes)
    return GivenLesson(lesson, lesson.meeting.instructor, teacher, has_yes)


def _is_unchanged(row: Row, lesson: Booking) -> bool:
    """Whether the lesson still has the time and the instructor that the plan saw."""
    starts_at = datetime.fromisoformat(row["starts_at"])
    return (lesson.starts_at, lesson.meeting.instructor_id) == (starts_at, row["from"])


class _Times:
    """The time of those who take lessons, without the lessons that change hands."""

    def __init__(
        self,
        rows: Sequence[Row],
        lessons: Mapping[int, Booking],
        takers: Sequence[Instructor],
        now: datetime,
    ) -> None:
        self._rows = [row for row in rows if row["meeting"] in lessons]
        self._lessons = lessons
        self.policy: Policy = policy_in_force(now).rules()
        self.said_yes = who_said_yes(lessons.values())
        starts = [datetime.fromisoformat(row["starts_at"]) for row in rows]
        found = instructors_time(
            takers,
            min(starts) - _AROUND,
            max(starts) + _AROUND,
            ignoring=tuple(lessons),
        )
        self._times = {time.id: time for time in found}

    def beside(self, row: Row) -> InstructorTime:
        """The taker's time with all that they take beside this lesson.

        What they have agreed to by a yes of their own is not held against their load.
        """
        time = self._times[row["to"]]
        others = [one for one in self._rows if one["to"] == row["to"] and one is not row]
        meetings = [self._lessons[one["meeting"]].meeting for one in others]
        plain = [one for one in meetings if (one.pk, row["to"]) not in self.said_yes]
        held = (Period(one.starts_at, one.held_until) for one in meetings)
        taught = (Period(one.starts_at, one.ends_at) for one in plain)
        return replace(time, meetings=(*time.meetings, *held), taught=(*time.taught, *taught))
