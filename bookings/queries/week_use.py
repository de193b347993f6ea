"""How an instructor's hours are used, and who waits for more of them."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Min, prefetch_related_objects

from accounts.models import Instructor, Student, User
from bookings.access import name_for
from bookings.domain.due import Due
from bookings.domain.local_days import midnight
from bookings.domain.serving_hours import ServingHour, serving_hours
from bookings.domain.student_hours import NOTHING_SAID
from bookings.domain.terms import TermDates
from bookings.domain.week_use import WEEK, WeekUse, fullest, weeks_used
from bookings.domain.weekly_costs import WeeklyCosts
from bookings.domain.zones import zone
from bookings.models import ONE_ON_ONE, Teaches, WaitingPlace
from bookings.queries.instructor_times import instructors_time
from bookings.queries.my_students import Wanted, due_among, students_wanted
from bookings.queries.student_hours import said_in
from bookings.queries.teaching import zone_of_hours

WEEKS_BACK, WEEKS_AHEAD = 8, 4
"""The last eight weeks end with this one."""
SHOWN = 12
"""So many people of each kind are named."""


@dataclass(frozen=True, slots=True)
class DueStudent:
    """A student who is due a review, by the name that the reader knows, and why."""

    student_id: int
    name: str
    due: Due


@dataclass(frozen=True, slots=True)
class UsedHours:
    """The weeks up to this one and those ahead, and who waits or is due.

    `waiting` are places on the waiting lists of the instructor's meetings, each with the name.
    """

    time_zone: str
    past: Sequence[WeekUse]
    ahead: Sequence[WeekUse]
    shortest_minutes: int | None
    waiting: list[tuple[str, WaitingPlace]]
    due: list[DueStudent]
    due_count: int
    fullest: WeekUse | None
    serving: list[ServingHour]
    """Hours of the fullest week ahead, or of the next one where none has hours."""

    @property
    def wanted_minutes(self) -> int:
        """What one shortest lesson for everybody who waits or is due would take."""
        if self.shortest_minutes is None:
            return 0
        return (len(self.waiting) + self.due_count) * self.shortest_minutes

    @property
    def weeks(self) -> list[WeekUse]:
        """All of them, in order of time."""
        return [*self.past, *self.ahead]


def used_hours(reader: User, instructor: Instructor, *, now: datetime) -> UsedHours:
    """The last weeks, the next ones, and who waits: six queries.

    Every week is measured against the hours that are published now: older ones are not kept.
    """
    here = zone_of_hours(instructor)
    first_on = _monday(now, here) - WEEK * (WEEKS_BACK - 1)
    count = WEEKS_BACK + WEEKS_AHEAD
    since, until = midnight(first_on, here), midnight(first_on + WEEK * count, here)
    (time,) = instructors_time([instructor], since, until)
    shortest = _shortest(instructor)
    weeks = weeks_used(time, first_on, count, shortest_minutes=shortest)
    past, ahead = weeks[:WEEKS_BACK], weeks[WEEKS_BACK:]
    least = fullest(ahead)
    waiting, due = _waiting(reader, instructor, now), _due(reader, instructor, now)
    named = _with_weeks(one.student_id for one in due[:SHOWN])
    people = {place.student_id: place.student for _, place in waiting} | named
    monday = (least or ahead[0]).monday
    return UsedHours(
        time_zone=here,
        past=past,
        ahead=ahead,
        shortest_minutes=shortest,
        waiting=waiting,
        due=[_due_student(reader, named[one.student_id], one, now) for one in due[:SHOWN]],
        due_count=len(due),
        fullest=least,
        serving=serving_hours(time, monday, _costs(people.values(), monday), now=now),
    )


def _monday(now: datetime, here: str) -> date:
    today = now.astimezone(zone(here)).date()
    return today - timedelta(days=today.weekday())


def _shortest(instructor: Instructor) -> int | None:
    """The minutes of the shortest one-on-one that they teach and that can be booked."""
    rows = Teaches.objects.filter(
        instructor=instructor, offering__kind__in=ONE_ON_ONE, offering__is_open=True
    )
    found: int | None = rows.aggregate(shortest=Min("offering__minutes"))["shortest"]
    return found


def _waiting(reader: User, instructor: Instructor, now: datetime) -> list[tuple[str, WaitingPlace]]:
    rows = WaitingPlace.objects.waiting().without_offer()
    ahead = rows.filter(meeting__instructor=instructor, meeting__starts_at__gt=now)
    found = ahead.select_related("student__user", "student__week", "meeting__offering")
    return [
        (name_for(reader, place.student, now), place)
        for place in found.order_by("joined_at", "pk")[:SHOWN]
    ]


def _due(reader: User, instructor: Instructor, now: datetime) -> list[Due]:
    own = students_wanted(reader, Wanted(instructor=instructor), now=now)
    return due_among(own, reader, instructor, now=now)


def _due_student(reader: User, student: Student, one: Due, now: datetime) -> DueStudent:
    return DueStudent(student.pk, name_for(reader, student, now), one)


def _with_weeks(ids: Iterable[int]) -> dict[int, Student]:
    """These students by id, each with what the family says of the week but its windows."""
    rows = Student.objects.filter(pk__in=list(ids)).select_related("user", "week")
    return {student.pk: student for student in rows}


def _costs(students: Collection[Student], monday: date) -> list[WeeklyCosts]:
    """What the hours of a week cost each student, as if there were school all week: one query."""
    weeks = [student.week for student in students if hasattr(student, "week")]
    prefetch_related_objects(weeks, "windows")
    school = [TermDates(monday, monday + WEEK)]
    return [
        WeeklyCosts(
            student.zone,
            student.adult_on,
            said_in(student.week, school) if hasattr(student, "week") else NOTHING_SAID,
        )
        for student in students
    ]
