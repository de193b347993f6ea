"""What the solver is given to make a term's timetable."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from accounts.models import Guardianship, Instructor, Student
from bookings.domain.errors import Refused
from bookings.domain.hours import DAY_MINUTES
from bookings.domain.parties import InstructorTime, StudentTime
from bookings.domain.planning.timetable import (
    Place,
    TermInstructor,
    TermStudent,
    TimetableProblem,
    Wish,
)
from bookings.domain.policy import Policy
from bookings.domain.weekly import WeeklyRequest, WeeklyTime
from bookings.domain.weekly_costs import NEVER
from bookings.domain.weekly_options import weekly_options
from bookings.domain.zones import zone
from bookings.models import Meeting, Offering, Teaches, Term, WeeklyPlace
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules, private_lessons
from bookings.queries.planning.students import people_named, times_of_students
from bookings.queries.planning.versions import seen_now
from bookings.queries.policies import policy_in_force
from bookings.queries.weekly import around_term
from bookings.queries.weekly_places import open_places


@dataclass(frozen=True, slots=True)
class Named:
    """The rows that a request for a timetable names. `places` are the students' own in the term,
    and `before` those of the term before, by student.
    """

    term: Term
    offering: Offering
    instructors: Sequence[Instructor]
    students: Sequence[Student]
    places: Mapping[int, WeeklyPlace]
    before: Mapping[int, WeeklyPlace]


def timetable_named(asked: Mapping[str, Any]) -> Named:
    """Refused("invalid") with the field that names nothing that is here."""
    term = Term.objects.prefetch_related("breaks").filter(pk=asked["term"]).first()
    if term is None:
        raise Refused("invalid", "Choose a term.", field="term")
    offering = private_lessons().filter(pk=asked["offering"]).first()
    if offering is None:
        raise Refused("invalid", "Choose a private lesson.", field="offering")
    instructors, students = people_named(asked)
    return Named(
        term,
        offering,
        instructors,
        students,
        _places(students, term),
        _places(students, _term_before(term)),
    )


def _term_before(term: Term) -> Term | None:
    return Term.objects.filter(last_on__lt=term.first_on).order_by("last_on").last()


def _places(students: Iterable[Student], term: Term | None) -> dict[int, WeeklyPlace]:
    """Each student's weekly place in a term; of several the one taken last. One query."""
    if term is None:
        return {}
    rows = open_places(WeeklyPlace.objects.filter(term=term, student__in=students))
    return {row.student_id: row for row in rows.order_by("pk")}


def read_timetable(
    asked: Mapping[str, Any], *, now: datetime
) -> tuple[TimetableProblem, dict[str, int | str]]:
    """The problem and the versions of what was read for it: as many queries for any number of
    students.

    A place is possible for a student where every date of the term ahead can hold it. Lessons of
    the students' own places in the term do not stand in the way, since the plan may move them.
    """
    named = timetable_named(asked)
    policy = policy_in_force(now).rules()
    since, until = around_term(named.term)
    own = _own_lessons(named)
    times = [_without(time, own) for time in instructors_time(named.instructors, since, until)]
    ids = tuple(pk for lessons in own.values() for pk in lessons)
    students = times_of_students(named.students, since, until, ignoring=ids)
    wishes = _wishes(named, times, students, policy, now)
    fixed = {row["student"]: _place_of(row) for row in asked.get("fixed", ())}
    families = _families(named.students)
    problem = TimetableProblem(
        students=tuple(
            TermStudent(
                id=student.pk,
                minutes=named.offering.minutes,
                wishes=wishes[student.pk],
                regular=student.regular_instructor_id,
                previous=_previous(named, student),
                family=families.get(student.pk),
                has_consent=student.pk in asked.get("consents", ()),
                fixed=fixed.get(student.pk),
            )
            for student in named.students
        ),
        instructors=tuple(_instructor(time, wishes, named.offering, policy) for time in times),
    )
    return problem, seen_now(instructors=named.instructors, term=named.term)


def _own_lessons(named: Named) -> dict[int, dict[int, datetime]]:
    """The lessons of the students' own places in the term: by instructor, id and start."""
    found: dict[int, dict[int, datetime]] = defaultdict(dict)
    rows = Meeting.objects.filter(weekly_place__in=[row.pk for row in named.places.values()])
    for pk, instructor, starts_at in rows.values_list("pk", "instructor_id", "starts_at"):
        found[instructor][pk] = starts_at
    return found


def _without(time: InstructorTime, lessons: Mapping[int, Mapping[int, datetime]]) -> InstructorTime:
    """The instructor's time with those lessons taken out of it."""
    ended = set(lessons.get(time.id, {}).values())
    return replace(
        time,
        meetings=tuple(one for one in time.meetings if one.starts_at not in ended),
        taught=tuple(one for one in time.taught if one.starts_at not in ended),
    )


def _wishes(
    named: Named,
    times: Sequence[InstructorTime],
    students: Mapping[int, StudentTime],
    policy: Policy,
    now: datetime,
) -> dict[int, tuple[Wish, ...]]:
    """For each student the weekly times that hold every date, with whoever teaches their level."""
    levels = {
        row.instructor_id: (row.lowest_level, row.highest_level)
        for row in Teaches.objects.filter(offering=named.offering)
    }
    request = WeeklyRequest(named.term.dates(), offering_rules(named.offering, policy))
    found = {}
    for student in named.students:
        teachers = [
            time
            for time in times
            if time.id in levels and levels[time.id][0] <= student.level <= levels[time.id][1]
        ]
        options = weekly_options(request, teachers, students[student.pk], policy, now)
        found[student.pk] = tuple(
            Wish(_place(option.instructor_id, option.at), option.greatest_burden)
            for option in options
            if not option.failed and option.greatest_burden < NEVER
        )
    return found


def _place(instructor: int, at: WeeklyTime) -> Place:
    return Place(instructor, at.weekday * DAY_MINUTES + at.minute)


def _place_of(row: Mapping[str, int]) -> Place:
    return _place(row["instructor"], WeeklyTime(row["weekday"], row["wall_at"]))


def _previous(named: Named, student: Student) -> Place | None:
    """The student's place in this term, else in the term before."""
    row = named.places.get(student.pk) or named.before.get(student.pk)
    if row is None:
        return None
    return _place(row.instructor_id, WeeklyTime(row.weekday, row.wall_at))


def _families(students: Sequence[Student]) -> dict[int, int]:
    """Each child by id, with the first guardian who answers for them."""
    rows = Guardianship.objects.answering().filter(student__in=students).order_by("-guardian_id")
    return dict(rows.values_list("student_id", "guardian_id"))


def _instructor(
    time: InstructorTime,
    wishes: Mapping[int, Sequence[Wish]],
    offering: Offering,
    policy: Policy,
) -> TermInstructor:
    """An instructor's starts and load. What they teach beside the timetable lowers the limits of
    every day and week by what the fullest one has.
    """
    day, week = _fullest(time)
    return TermInstructor(
        id=time.id,
        starts=tuple(
            sorted(
                {
                    wish.place.minute
                    for theirs in wishes.values()
                    for wish in theirs
                    if wish.place.instructor_id == time.id
                }
            )
        ),
        changeover=offering_rules(offering, policy).changeover_minutes,
        run_minutes=policy.run_minutes,
        run_gap=policy.run_gap_minutes,
        day_minutes=max(policy.day_minutes - day, 0),
        week_minutes=max(policy.week_minutes - week, 0),
    )


def _fullest(time: InstructorTime) -> tuple[int, int]:
    """The most minutes that they teach on one local date, and in one local week."""
    days: Counter[date] = Counter()
    weeks: Counter[date] = Counter()
    for taught in time.taught:
        on = taught.starts_at.astimezone(zone(time.time_zone)).date()
        days[on] += taught.minutes
        weeks[on - timedelta(days=on.weekday())] += taught.minutes
    return max(days.values(), default=0), max(weeks.values(), default=0)
