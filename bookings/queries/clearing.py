"""What could become of an instructor's meetings in hours that they cannot teach."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from accounts.models import Instructor
from bookings.domain.planning.cover import Uncovered
from bookings.domain.planning.cover_plan import plan_cover
from bookings.domain.proposed_times import without_lead
from bookings.domain.start_costs import Listing
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Night
from bookings.models import Booking
from bookings.queries.planning.cover import read_plain_cover
from bookings.queries.policies import policy_in_force
from bookings.queries.slots import last_for, slots_for

MOVES_WITHIN = timedelta(days=28)
SOLVED_WITHIN = 2.0
"""Seconds for the substitutes of one page; a day takes some hundredths."""
_NOBODY = "Nobody else is free for it within their hours and load."


@dataclass(frozen=True, slots=True)
class Substitutes:
    """Who takes which lesson, by meeting, when these are covered together; and why the others have
    nobody, in a sentence each.
    """

    found: Mapping[int, Instructor]
    why_not: Mapping[int, str]


def substitutes_for(lessons: Sequence[Booking], stretch: Period, *, now: datetime) -> Substitutes:
    """The best joint cover of these lessons by those who need no yes of their own for it."""
    if not lessons:
        return Substitutes({}, {})
    problem = read_plain_cover(lessons, stretch, now=now)
    cover = plan_cover(problem, seconds=SOLVED_WITHIN)
    people = _people({one.instructor_id for one in cover.handovers})
    return Substitutes(
        {one.lesson_id: people[one.instructor_id] for one in cover.handovers},
        {pk: _why(why) for pk, why in cover.uncovered},
    )


def next_humane_start(lesson: Booking, *, since: datetime, now: datetime) -> datetime | None:
    """The first start of the same instructor from `since` on, at no hard hour of the student's.

    None where there is none in four weeks, or for a make-up lesson until its use-by date.
    """
    since = max(since, now)
    until = last_for(lesson.student, lesson.use_by, since + MOVES_WITHIN)
    if until <= since:
        return None
    found = slots_for(
        offering=lesson.meeting.offering,
        student=lesson.student,
        instructor_id=lesson.meeting.instructor_id,
        since=since,
        until=until,
        moving=lesson.meeting,
        policy=without_lead(policy_in_force(now).rules()),
        by_school=True,
        listing=Listing(Night.LEFT_OUT),
        limit=1,
        now=now,
    )
    return found.slots[0].starts_at if found.slots else None


def _people(ids: Collection[int]) -> dict[int, Instructor]:
    return Instructor.objects.select_related("user", "week").in_bulk(ids)


def _why(why: Uncovered) -> str:
    return _NOBODY if why == Uncovered.NOT_FREE else why.sentence
