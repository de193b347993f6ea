"""The weekly times that a place could move to, and the sibling's place that moves with it."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from accounts.models import Guardianship, Student, User
from bookings.access import own_students
from bookings.domain.policy import Policy
from bookings.domain.slots import InstructorTime
from bookings.domain.terms import TermDates
from bookings.domain.timeline import Period
from bookings.domain.weekly import WeeklyOption, WeeklyRequest, WeeklyTime, ends_at_minute
from bookings.domain.weekly_options import pairs, weekly_options
from bookings.models import Meeting, WeeklyPlace
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules
from bookings.queries.policies import policy_in_force
from bookings.queries.student_times import student_time
from bookings.queries.weekly import FoundWeekly, around_term
from bookings.queries.weekly_places import open_places


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
    """Other weekly times with the same instructor for a place that is to move.

    Its present hours count as free.

    If a sibling's place follows it, the two move together; see `next_place`.
    """
    policy, following = policy_in_force(now).rules(), next_place(place, user, now=now, own=own)
    dates = place.term.dates()
    moving = [place] if following is None else [place, following]
    people = [place.instructor]
    gone = list(Meeting.objects.not_called_off().filter(weekly_place__in=moving))
    times = [
        _without(time, gone) for time in instructors_time(people, *around_term(place.term, now))
    ]
    options = [
        option
        for option in _options_of(place, dates, times, gone, policy, now, (earliest, latest))
        if option.at != _at(place)
    ]
    if following is None:
        return FoundWeekly.of([(option, None) for option in options][:limit], people, times)
    theirs = _options_of(following, dates, times, gone, policy, now)
    together = pairs(
        options,
        theirs,
        offering_rules(place.offering, policy),
        offering_rules(following.offering, policy),
    )
    return replace(FoundWeekly.of(together[:limit], people, times), following=following)


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
    answering = Guardianship.objects.answering()
    guardians = answering.filter(student=place.student_id).order_by().values("guardian")
    family = answering.filter(guardian__in=guardians).student_ids()
    siblings = Student.objects.filter(pk__in=family).exclude(pk=place.student_id)
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
    time_of_student = student_time(place.student, *around_term(place.term, now), with_hours=True)
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


def _at(place: WeeklyPlace) -> WeeklyTime:
    return WeeklyTime(place.weekday, place.wall_at)
