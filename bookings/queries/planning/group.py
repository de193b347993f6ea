"""What the solver is given to find when a group should meet."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from accounts.models import Instructor, Student
from bookings.domain.coming import cost_of_coming
from bookings.domain.errors import Refused
from bookings.domain.free_starts import free_starts
from bookings.domain.local_days import day_period
from bookings.domain.parties import InstructorTime, OfferingRules, StudentTime
from bookings.domain.planning.group import Band, Form, GroupProblem, Member, Start
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period
from bookings.domain.zones import zone
from bookings.models import Offering, Plan
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import group_offerings, offering_rules
from bookings.queries.planning.asked_hours import hours_kept_for
from bookings.queries.planning.carried import carried_by
from bookings.queries.planning.students import people_named, times_of_students
from bookings.queries.planning.versions import HOURS_READ, seen_now
from bookings.queries.policies import policy_in_force
from bookings.queries.teaching import bands_taught

MOST_DAYS = 200
MOST_STARTS = 3000
"""More candidate starts are no help to anybody, and the solver would need minutes to read them."""
_AROUND = timedelta(days=2)


def group_named(asked: Mapping[str, Any]) -> tuple[Offering, list[Instructor], list[Student]]:
    """The rows that a request names. Refused("invalid") with the field that names none, and for a
    student at a level that none of the instructors teaches.
    """
    offering = group_offerings().filter(pk=asked["offering"]).first()
    if offering is None:
        raise Refused("invalid", "Choose a group meeting or a masterclass.", field="offering")
    instructors, students = people_named(asked)
    _check_levels(offering, students, bands_taught(offering, instructors).values())
    return offering, instructors, students


def _check_levels(offering: Offering, students: Sequence[Student], bands: Collection[Band]) -> None:
    others = [one for one in students if not any(_is_in(band, one.level) for band in bands)]
    if others:
        who = ", ".join(f"{one.first_name}, level {one.level}" for one in others)
        raise Refused(
            "invalid",
            f"None of the instructors teaches {offering.name} at the level of: {who}. "
            "Leave them out, or choose other instructors.",
            field="students",
        )


def _is_in(band: Band | None, level: int) -> bool:
    return band is not None and band[0] <= level <= band[1]


def read_group(plan: Plan, *, now: datetime) -> tuple[GroupProblem, dict[str, int | str]]:
    """The problem and the versions of what was read for it: as many queries for any number of
    members. Candidates are what the instructors' hours, meetings, busy times and load allow; a
    start is none for a member at a level that its instructor does not teach. A plan that asks
    families for their hours reads what they said in time, any other what stands.
    """
    asked = plan.asked
    offering, instructors, students = group_named(asked)
    policy = policy_in_force(now).rules()
    rules = offering_rules(offering, policy)
    days = date.fromisoformat(asked["first_on"]), date.fromisoformat(asked["last_on"])
    since = max(now, day_period(days[0], "UTC").starts_at - _AROUND)
    until = day_period(days[1], "UTC").ends_at + _AROUND
    times = instructors_time(instructors, since, until)
    starts = _starts(rules, times, policy, (since, until), days)
    bands = bands_taught(offering, instructors)
    hours = times_of_students(students, since, until, kept=hours_kept_for(plan))
    carried = carried_by([student.pk for student in students], days[0])
    length = timedelta(minutes=rules.minutes)
    dated = [(start, Period(start.starts_at, start.starts_at + length)) for start in starts]
    members = tuple(
        Member(
            student.pk,
            _costs(student.level, hours[student.pk], dated, bands, policy),
            carried[student.pk],
            student.level,
        )
        for student in students
    )
    problem = GroupProblem(
        members=members,
        starts=tuple(starts),
        minutes=rules.minutes,
        changeover=rules.changeover_minutes,
        places=asked["places"],
        meetings=asked["meetings"],
        form=Form(asked["mode"]),
        days_apart=asked["days_apart"],
    )
    return problem, {**seen_now(instructors=instructors), HOURS_READ: now.isoformat()}


def _costs(
    level: int,
    hours: StudentTime,
    dated: Sequence[tuple[Start, Period]],
    bands: Mapping[int, Band],
    policy: Policy,
) -> tuple[int | None, ...]:
    """What each start costs a student of this level, by its period; None where they cannot come."""
    return tuple(
        cost_of_coming(hours, period, policy)
        if _is_in(bands.get(start.instructor_id), level)
        else None
        for start, period in dated
    )


def _starts(
    rules: OfferingRules,
    times: Sequence[InstructorTime],
    policy: Policy,
    between: tuple[datetime, datetime],
    days: tuple[date, date],
) -> list[Start]:
    """Every start that an instructor could teach on these dates of their clock, in order.

    Refused("invalid") where there is none, or too many to weigh.
    """
    found = []
    for time in times:
        clock = zone(time.time_zone)
        for starts_at in free_starts(rules, time, policy, *between):
            on = starts_at.astimezone(clock).date()
            if days[0] <= on <= days[1]:
                found.append(Start(starts_at, time.id, on))
    if not found:
        raise Refused(
            "invalid", "No instructor is free on these days. Choose other days or instructors."
        )
    if len(found) > MOST_STARTS:
        raise Refused("invalid", "These are too many starts to weigh. Choose fewer days.")
    return sorted(found, key=lambda start: (start.starts_at, start.instructor_id))
