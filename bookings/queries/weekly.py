"""The weekly times that a term could hold for a student, and one of them date by date."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from accounts.models import Instructor, Student
from bookings.domain.errors import Refused
from bookings.domain.policy import Policy
from bookings.domain.slots import InstructorTime, StudentTime
from bookings.domain.terms import TermDates
from bookings.domain.vocabulary import Kind
from bookings.domain.weekly import (
    WeeklyOption,
    WeeklyRequest,
    WeeklyTime,
    ends_at_minute,
    judge_weekly,
)
from bookings.domain.weekly_search import WeeklySearch
from bookings.models import Offering, StudioPolicy, Term, WeeklyPlace
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules
from bookings.queries.policies import policy_in_force
from bookings.queries.student_times import student_time
from bookings.queries.teaching import instructors_for

_PAD = timedelta(days=2)


@dataclass(frozen=True, slots=True)
class FoundWeekly:
    """Weekly options and what is needed to show them.

    Each stands beside a sibling's option that follows it, or None.
    """

    options: Sequence[tuple[WeeklyOption, WeeklyOption | None]]
    instructors: dict[int, Instructor]
    time_zones: dict[int, str]
    following: WeeklyPlace | None = None
    """The sibling's place that moves with the one that is to move; see weekly_moves.next_place."""

    @classmethod
    def of(
        cls,
        options: Sequence[tuple[WeeklyOption, WeeklyOption | None]],
        people: Iterable[Instructor],
        times: Iterable[InstructorTime],
    ) -> "FoundWeekly":
        """These options with the people and the zones that they name."""
        return cls(
            options,
            {person.pk: person for person in people},
            {time.id: time.time_zone for time in times},
        )


@dataclass(frozen=True, slots=True)
class SearchedWeekly:
    """A search whose times are ranked, and what is needed to show them.

    Each is judged when it is shown.
    """

    search: WeeklySearch
    instructors: dict[int, Instructor]
    time_zones: dict[int, str]


def check_weekly(offering: Offering) -> None:
    """Refused("wrong-kind") for an offering that has no weekly places."""
    if offering.kind != Kind.PRIVATE_LESSON or not offering.is_open:
        raise Refused(
            "wrong-kind",
            "A weekly place is for private lessons: choose one of those.",
            field="offering",
        )


def options_for(*, limit: int | None = None, **asked: Any) -> FoundWeekly:
    """The weekly times of that term for one student, ranked, with the reason of each date that
    cannot be held. `asked` is what `search_for` takes.
    """
    found = search_for(**asked)
    options = [(found.search.option(one), None) for one in found.search.ranked[:limit]]
    return FoundWeekly(options, found.instructors, found.time_zones)


def search_for(
    *,
    term: Term,
    offering: Offering,
    student: Student,
    instructor_id: int | None = None,
    after: WeeklyPlace | None = None,
    earliest: int | None = None,
    latest: int | None = None,
    people: Sequence[Instructor] | None = None,
    dates: TermDates | None = None,
    now: datetime,
) -> SearchedWeekly:
    """The search for that student's weekly times in that term.

    With `after`, a sibling's place, only times that follow it at once. `people` are all who teach
    the offering to them, and `dates` those of the term, where the caller has read them.
    """
    check_weekly(offering)
    policy = policy_in_force(now).rules()
    whom = after.instructor_id if after else instructor_id
    if people is None:
        people = _taught_by(offering, student, whom)
    people = [person for person in people if whom in (None, person.pk)]
    times = instructors_time(people, *around_term(term, now))
    request = WeeklyRequest(
        dates or term.dates(),
        offering_rules(offering, policy),
        earliest=earliest,
        latest=latest,
        after=_end_of(after, policy) if after is not None else None,
    )
    search = WeeklySearch(request, times, _over_term(student, term, now), policy, now)
    return SearchedWeekly(
        search,
        {person.pk: person for person in people},
        {time.id: time.time_zone for time in times},
    )


def _end_of(place: WeeklyPlace, policy: Policy) -> WeeklyTime:
    """The weekly time at which that place ends."""
    at = WeeklyTime(place.weekday, place.wall_at)
    return ends_at_minute(at, offering_rules(place.offering, policy))


def judge(
    *,
    term: Term,
    offering: Offering,
    student: Student,
    instructor: Instructor,
    at: WeeklyTime,
    without: Iterable[date] = (),
    people: Sequence[Instructor] | None = None,
    policy: StudioPolicy,
    now: datetime,
) -> WeeklyOption:
    """One weekly time, date by date, as everything stands now.

    Refused("not-taught") if the instructor does not teach the offering at the student's level.
    `people` are all who do, where the caller has read them.
    """
    check_weekly(offering)
    if people is None:
        people = _taught_by(offering, student, instructor.pk)
    if instructor not in people:
        raise Refused(
            "not-taught",
            f"{instructor} does not teach this at level {student.level}. Choose another "
            "instructor.",
        )
    rules = policy.rules()
    request = WeeklyRequest(
        term.dates(), offering_rules(offering, rules), without=frozenset(without)
    )
    (time,) = instructors_time([instructor], *around_term(term, now))
    return judge_weekly(request, at, time, _over_term(student, term, now), rules, now)


def _over_term(student: Student, term: Term, now: datetime) -> StudentTime:
    return student_time(student, *around_term(term, now), with_hours=True)


def _taught_by(offering: Offering, student: Student, instructor_id: int | None) -> list[Instructor]:
    """Who teaches the offering at the student's level, except the student's own account."""
    return [
        person
        for person in instructors_for(offering, student.level, instructor_id)
        if person.user_id != student.user_id
    ]


def around_term(term: Term, now: datetime | None = None) -> tuple[datetime, datetime]:
    """The stretch of time that is read to judge the dates of a term, in UTC; with `now` of those
    alone that are to come.
    """
    first, last = (datetime.combine(on, time(), UTC) for on in (term.first_on, term.last_on))
    since, until = first - _PAD, last + 2 * _PAD
    return since if now is None else min(max(since, now), last), until
