"""Weekly places: the times that a term could hold, and the place that follows a sibling's."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from accounts.models import Instructor, Student, User
from bookings.access import own_students
from bookings.domain.errors import Refused
from bookings.domain.policy import Policy
from bookings.domain.slots import InstructorTime
from bookings.domain.terms import Term as TermDates
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Kind
from bookings.domain.weekly import (
    WeeklyOption,
    WeeklyRequest,
    WeeklyTime,
    ends_at_minute,
    judge_weekly,
)
from bookings.domain.weekly_options import pairs, weekly_options
from bookings.models import Meeting, Offering, StudioPolicy, Term, WeeklyPlace
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules
from bookings.queries.policies import policy_in_force
from bookings.queries.student_times import student_time
from bookings.queries.teaching import instructors_for
from bookings.queries.weekly_places import open_places

_PAD = timedelta(days=2)


@dataclass(frozen=True, slots=True)
class FoundWeekly:
    """Weekly options and what is needed to show them. Each stands beside a sibling's option that
    follows it, or None.
    """

    options: Sequence[tuple[WeeklyOption, WeeklyOption | None]]
    instructors: dict[int, Instructor]
    time_zones: dict[int, str]
    following: WeeklyPlace | None = None
    """The sibling's place that moves with the one that is to move; see `next_place`."""


def check_weekly(offering: Offering) -> None:
    """Refused("wrong-kind") for an offering that has no weekly places."""
    if offering.kind != Kind.PRIVATE_LESSON or not offering.is_open:
        raise Refused(
            "wrong-kind",
            "A weekly place is for private lessons: choose one of those.",
            field="offering",
        )


def options_for(
    *,
    term: Term,
    offering: Offering,
    student: Student,
    instructor_id: int | None = None,
    after: WeeklyPlace | None = None,
    earliest: int | None = None,
    latest: int | None = None,
    limit: int | None = None,
    people: Sequence[Instructor] | None = None,
    now: datetime,
) -> FoundWeekly:
    """The weekly times of that term for one student, ranked.

    With `after`, a sibling's place, only times that follow it at once. `people` are all who teach
    the offering to them, where the caller has read them.
    """
    check_weekly(offering)
    policy = policy_in_force(now).rules()
    whom = after.instructor_id if after else instructor_id
    if people is None:
        people = _taught_by(offering, student, whom)
    people = [person for person in people if whom in (None, person.pk)]
    times = instructors_time(people, *_around(term))
    request = WeeklyRequest(
        term.dates(), offering_rules(offering, policy), earliest=earliest, latest=latest
    )
    if after is not None:
        request = replace(
            request,
            after=ends_at_minute(
                WeeklyTime(after.weekday, after.wall_at), offering_rules(after.offering, policy)
            ),
        )
    found = weekly_options(
        request, times, student_time(student, *_around(term)), policy, now, limit
    )
    return _found([(option, None) for option in found], people, times)


def options_instead(
    *,
    place: WeeklyPlace,
    user: User,
    earliest: int | None = None,
    latest: int | None = None,
    limit: int | None = None,
    own: Sequence[Student] | None = None,
    now: datetime,
) -> FoundWeekly:
    """Other weekly times with the same instructor for a place that is to move. Its present hours
    count as free.

    If a sibling's place follows it, the two move together; see `next_place`.
    """
    policy, following = policy_in_force(now).rules(), next_place(place, user, now=now, own=own)
    dates = place.term.dates()
    moving = [place] if following is None else [place, following]
    people = [place.instructor]
    gone = list(Meeting.objects.not_called_off().filter(weekly_place__in=moving))
    times = [_without(time, gone) for time in instructors_time(people, *_around(place.term))]
    options = [
        option
        for option in _options_of(place, dates, times, gone, policy, now, (earliest, latest))
        if option.at != _at(place)
    ]
    if following is None:
        return _found([(option, None) for option in options][:limit], people, times)
    theirs = _options_of(following, dates, times, gone, policy, now)
    together = pairs(
        options,
        theirs,
        offering_rules(place.offering, policy),
        offering_rules(following.offering, policy),
    )
    return replace(_found(together[:limit], people, times), following=following)


def next_place(
    place: WeeklyPlace, user: User, *, now: datetime, own: Sequence[Student] | None = None
) -> WeeklyPlace | None:
    """The place of a sibling that follows this one with the same instructor, if any.

    Siblings share a guardian. Only siblings for whom `user` may act count: a guardian may answer
    for one child of a family and not for another. `own` are the students they act for, where the
    caller has read them.
    """
    rules = place.policy.rules()
    after = ends_at_minute(_at(place), offering_rules(place.offering, rules))
    siblings = Student.objects.filter(guardians__in=place.student.guardians.all()).exclude(
        pk=place.student_id
    )
    if not user.is_staff:
        own = own_students(user, now=now) if own is None else own
        others = [row.pk for row in own if row.pk != place.student_id]
        if not others:
            return None
        siblings = siblings.filter(pk__in=others)
    beside = WeeklyPlace.objects.filter(
        student__in=siblings, term=place.term, instructor=place.instructor
    )
    later = open_places(beside).filter(weekday=after.weekday, wall_at__gte=after.minute)
    following = later.order_by("wall_at").first()
    if following is None:
        return None
    step = offering_rules(following.offering, rules).step_minutes
    return following if following.wall_at < after.minute + step else None


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
    (time,) = instructors_time([instructor], *_around(term))
    return judge_weekly(request, at, time, student_time(student, *_around(term)), rules, now)


def _taught_by(offering: Offering, student: Student, instructor_id: int | None) -> list[Instructor]:
    """The instructors who teach the offering at the student's level, except the student's own
    account.
    """
    return [
        person
        for person in instructors_for(offering, student.level, instructor_id)
        if person.user_id != student.user_id
    ]


def _options_of(
    place: WeeklyPlace,
    dates: TermDates,
    times: Sequence[InstructorTime],
    gone: Sequence[Meeting],
    policy: Policy,
    now: datetime,
    hours: tuple[int | None, int | None] = (None, None),
) -> list[WeeklyOption]:
    freed = {
        Period(meeting.starts_at, meeting.ends_at)
        for meeting in gone
        if meeting.weekly_place_id == place.pk
    }
    time_of_student = student_time(place.student, *_around(place.term))
    time_of_student = replace(
        time_of_student,
        meetings=tuple(period for period in time_of_student.meetings if period not in freed),
    )
    request = WeeklyRequest(
        dates,
        offering_rules(place.offering, policy),
        earliest=hours[0],
        latest=hours[1],
    )
    return weekly_options(request, times, time_of_student, policy, now)


def _without(time: InstructorTime, gone: Sequence[Meeting]) -> InstructorTime:
    held = {Period(meeting.starts_at, meeting.held_until) for meeting in gone}
    taught = {Period(meeting.starts_at, meeting.ends_at) for meeting in gone}
    return replace(
        time,
        meetings=tuple(period for period in time.meetings if period not in held),
        taught=tuple(period for period in time.taught if period not in taught),
    )


def _found(
    options: Sequence[tuple[WeeklyOption, WeeklyOption | None]],
    people: Iterable[Instructor],
    times: Iterable[InstructorTime],
) -> FoundWeekly:
    return FoundWeekly(
        options,
        {person.pk: person for person in people},
        {time.id: time.time_zone for time in times},
    )


def _at(place: WeeklyPlace) -> WeeklyTime:
    return WeeklyTime(place.weekday, place.wall_at)


def _around(term: Term) -> tuple[datetime, datetime]:
    first, last = (datetime.combine(on, time(), UTC) for on in (term.first_on, term.last_on))
    return first - _PAD, last + 2 * _PAD
