"""One instructor's day of eight consultations, on the day when the school is loaded."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from accounts.models import Instructor, Student, User
from bookings.demo import people
from bookings.demo.people import Adult, Child
from bookings.domain.zones import zone
from bookings.models import Offering
from bookings.operations.booking import book_slot
from bookings.operations.hours import add_extra_hours
from bookings.operations.intakes import IntakeText
from bookings.operations.practice import tick
from bookings.queries.practice import latest_plan, today_of

TEACHER = people.TENZIN
OPENS, CLOSES = time(13), time(17, 30)
"""Extra hours in Kathmandu, whatever the weekday."""
_BOOKED_BEFORE = timedelta(days=5)
_LAST_TICKED = 2
"""Days ago: the last two days are left for whoever tries the page."""

Actor = Callable[[Adult | Child], User]


@dataclass(frozen=True, slots=True)
class Consultation:
    """A consultation at a wall time in Kathmandu, with what the student wrote before."""

    student: Adult | Child
    at: time
    question: str
    pieces: str = ""
    obstacle: str = ""
    practised_minutes: int | None = None
    ticks: int = 0
    """On how many days they have ticked the first item of their plan."""


DAY = (
    Consultation(people.MERRIN, time(13), "Which shoulder should the harp rest on?", "Five notes"),
    Consultation(
        people.POSY,
        time(13, 30),
        "Can we make my song longer?",
        "The boat song",
        practised_minutes=60,
        ticks=4,
    ),
    Consultation(
        people.TOVA,
        time(14),
        "Why do my chords sound thin?",
        "Study 3 in F",
        "The chord breaks from the bottom.",
        110,
        8,
    ),
    Consultation(
        people.ISHANI,
        time(14, 30),
        "How do I keep a slow pulse?",
        "Study 5 in C",
        "I rush as soon as it is easy.",
        150,
        11,
    ),
    Consultation(people.ASMI, time(15, 30), "How high should I sit?", "Two lullabies"),
    Consultation(
        people.LARK,
        time(16),
        "May I play with the lamp off?",
        "The mill wheel",
        "I look at the strings all the time.",
    ),
    Consultation(people.YARA, time(16, 30), "Which hand turns the page?", "Airs in G"),
    Consultation(
        people.IMOGEN,
        time(17),
        "Is the waltz ready to be heard?",
        "Waltz by candlelight",
        practised_minutes=90,
    ),
)


def today_in_kathmandu(now: datetime) -> date:
    """The date there when the school is loaded."""
    return now.astimezone(zone(TEACHER.time_zone)).date()


def book_day(
    *,
    instructor: Instructor,
    offering: Offering,
    students: Mapping[str, Student],
    actor_of: Actor,
    now: datetime,
) -> None:
    """Opens the hours of the day and books all eight, some days before."""
    on, booked_at = today_in_kathmandu(now), now - _BOOKED_BEFORE
    add_extra_hours(
        actor=instructor.user,
        instructor=instructor,
        on=on,
        opens=OPENS.hour * 60 + OPENS.minute,
        closes=CLOSES.hour * 60 + CLOSES.minute,
        time_zone=TEACHER.time_zone,
        now=booked_at,
    )
    for planned in DAY:
        starts_at = datetime.combine(on, planned.at, zone(TEACHER.time_zone))
        book_slot(
            actor=actor_of(planned.student),
            student=students[planned.student.name],
            offering=offering,
            instructor=instructor,
            starts_at=starts_at.astimezone(zone("UTC")),
            intake=IntakeText(
                questions=[planned.question],
                pieces=planned.pieces,
                obstacle=planned.obstacle,
                practised_minutes=planned.practised_minutes,
            ),
            now=booked_at,
        )


def tick_practice(*, students: Mapping[str, Student], actor_of: Actor, now: datetime) -> None:
    """Ticks of the days before, each made on its own day."""
    for planned in DAY:
        student = students[planned.student.name]
        plan = latest_plan(student)
        if plan is None:
            continue
        for days in range(planned.ticks):
            ticked_at = now - timedelta(days=_LAST_TICKED + days)
            tick(
                actor=actor_of(planned.student),
                student_id=student.pk,
                assessment_id=plan.pk,
                item=0,
                on=today_of(student, ticked_at),
                now=ticked_at,
            )
