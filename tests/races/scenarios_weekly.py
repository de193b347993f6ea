"""A race for weekly places: fifty students, one time, a whole term or nothing."""

from collections.abc import Sequence
from datetime import timedelta

from django.db.models import Count, Q

from bookings import clock
from bookings.domain.vocabulary import MeetingStatus
from bookings.door import write
from bookings.models import Meeting, Term, WeeklyPlace
from bookings.operations.terms import publish_term
from tests.races.drivers import Hit, Shot
from tests.races.plans import (
    API,
    Complaints,
    Plan,
    among,
    expect,
    statuses,
)
from tests.races.school import School


def weekly(school: School, clients: int | None = None) -> Plan:
    """R11. Fifty students want ten weeks with two instructors at one time, half in the other order:
    a term is held whole or not at all.
    """
    pair = [school.instructor(school.lesson), school.instructor(school.lesson)]
    term = _ten_weeks(school, f"Term {WeeklyPlace.objects.count()}-{pair[0].pk}")
    shots: list[Shot] = []
    for number, client in enumerate(school.newcomers(clients or 50)):
        when = {
            "weekday": school.random.choice(("MO", "TU", "WE")),
            "wall_time": school.random.choice(("10:00", "10:30", "11:00")),
        }
        for turn, instructor in enumerate(pair if number % 2 else pair[::-1]):
            asked = {"term": term.pk, "offering": school.lesson.pk, "instructor": instructor.pk}
            shots.append(
                Shot(
                    operation="weekly",
                    path=f"{API}weekly-places/",
                    token=client.token,
                    body={**asked, **when},
                    student=client.student.pk,
                    delay=0.03 * turn,
                )
            )

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = among(hits, {"term-dates", "taken", "own-clash", "conflict"})
        whole = Count("meetings", filter=~Q(meetings__status=MeetingStatus.CANCELLED))
        rows = list(WeeklyPlace.objects.filter(term=term).annotate(lessons=whole))
        wrong += expect("weekly places", len(rows), statuses(hits)[201])
        short = [row.pk for row in rows if row.lessons != 10]
        wrong += expect("places of another length than ten", short, [])
        times = {(row.instructor_id, row.weekday, row.wall_at) for row in rows}
        wrong += expect("times held once", len(times), len(rows))
        stray = Meeting.objects.filter(instructor__in=pair, weekly_place__isnull=True).count()
        return wrong + expect("lessons without their place", stray, 0)

    return Plan(shots=shots, judge=judge)


def _ten_weeks(school: School, name: str) -> Term:
    """A term of ten weeks from the next Monday in the stretch that is read, whichever weekday the
    race is run on.
    """
    first, now = school.day().date(), clock.now()
    monday = first + timedelta(days=-first.weekday() % 7)
    return write(
        lambda: publish_term(
            actor=school.admin,
            name=name,
            first_on=monday,
            last_on=monday + timedelta(weeks=10) - timedelta(days=1),
            lessons_promised=10,
            now=now,
        ),
        now=now,
    )
