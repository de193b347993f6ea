"""Many students' time at once, for plans: a fixed number of queries, however many they are."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from accounts.models import Instructor, Student
from bookings.domain.errors import Refused
from bookings.domain.parties import StudentTime
from bookings.domain.student_hours import SaidHours
from bookings.domain.terms import TermDates
from bookings.domain.timeline import Period
from bookings.models import BusyPeriod, StudentWeek, Term
from bookings.queries import held_time
from bookings.queries.held_time import REACH, held_bookings
from bookings.queries.offerings import teaching_now
from bookings.queries.student_hours import said_in

_TIMES = ("starts_at", "ends_at")


def students_named(ids: Collection[int]) -> list[Student]:
    """The students with these ids who are here, by id."""
    rows = Student.objects.filter(pk__in=ids, is_active=True).select_related("user")
    return list(rows.order_by("pk"))


def people_named(asked: Mapping[str, Any]) -> tuple[list[Instructor], list[Student]]:
    """The instructors and students that a request names, by id: two queries.

    Refused("invalid") with the field that names nobody, or somebody who is not here.
    """
    wanted = set(asked["instructors"])
    instructors = list(teaching_now().filter(pk__in=wanted).select_related("week").order_by("pk"))
    if not wanted or len(instructors) < len(wanted):
        raise Refused("invalid", "Choose instructors who teach here.", field="instructors")
    students = students_named(asked["students"])
    if not students or len(students) < len(set(asked["students"])):
        raise Refused("invalid", "Choose students who are here.", field="students")
    return instructors, students


def times_of_students(
    students: Iterable[Student],
    since: datetime,
    until: datetime,
    *,
    ignoring: Collection[int] = (),
    kept: Mapping[int, SaidHours] | None = None,
) -> dict[int, StudentTime]:
    """The time of each of these students in [since, until), with what the family says of the week:
    seven queries.

    `ignoring` are ids of meetings that would move or end. `kept` is what counts of a student's week
    instead of what stands. Who heard a student last is not read.
    """
    by_id = {student.pk: student for student in students}
    meetings = _meetings(by_id, since, until, ignoring)
    busy = _busy(by_id, since, until)
    terms = _terms(since, until)
    said = {pk: said_in(week, terms) for pk, week in weeks_of(by_id).items()}
    said |= {pk: replace(hours, terms=tuple(terms)) for pk, hours in (kept or {}).items()}
    return {
        pk: StudentTime(
            id=pk,
            time_zone=row.zone,
            adult_on=row.adult_on,
            meetings=tuple(meetings[pk]),
            busy=tuple(busy[pk]),
            regular=row.regular_instructor_id,
            said=said[pk],
        )
        for pk, row in by_id.items()
    }


def _accounts(students: Mapping[int, Student]) -> dict[int, int]:
    return {row.user_id: pk for pk, row in students.items() if row.user_id is not None}


def _meetings(
    students: Mapping[int, Student], since: datetime, until: datetime, ignoring: Collection[int]
) -> dict[int, list[Period]]:
    """What each student is held in, or teaches."""
    accounts, found = _accounts(students), defaultdict[int, list[Period]](list)
    held = held_bookings(since - REACH, since, until, ()).filter(student__in=students)
    for pk, *times in held.exclude(meeting__in=ignoring).values_list("student_id", *_TIMES):
        found[pk].append(Period(*times))
    taught = held_time.live_meetings(since - REACH, since, until).exclude(pk__in=ignoring)
    own = taught.filter(instructor__user__in=accounts)
    for user, *times in own.values_list("instructor__user_id", "starts_at", "held_until"):
        found[accounts[user]].append(Period(*times))
    return found


def _busy(
    students: Mapping[int, Student], since: datetime, until: datetime
) -> dict[int, list[Period]]:
    """What their calendars hold: those of an account, and of a student from before they had one."""
    accounts, found = _accounts(students), defaultdict[int, list[Period]](list)
    rows = BusyPeriod.objects.filter(starts_at__lt=until, ends_at__gt=since)
    of_students = rows.filter(calendar__student__in=students)
    for pk, *times in of_students.values_list("calendar__student_id", *_TIMES):
        found[pk].append(Period(*times))
    of_accounts = rows.filter(calendar__owner__in=accounts)
    for user, *times in of_accounts.values_list("calendar__owner_id", *_TIMES):
        found[accounts[user]].append(Period(*times))
    return found


def _terms(since: datetime, until: datetime) -> list[TermDates]:
    rows = Term.objects.filter(first_on__lte=until.date(), last_on__gte=since.date())
    return [term.dates() for term in rows.prefetch_related("breaks").order_by("pk")]


def weeks_of(students: Mapping[int, Student]) -> dict[int, StudentWeek]:
    """What stands of each student's week; a new one, not stored, where nobody has said anything."""
    rows = StudentWeek.objects.filter(student__in=students)
    said = {row.student_id: row for row in rows.prefetch_related("windows")}
    return {pk: said.get(pk) or StudentWeek(student=row) for pk, row in students.items()}
