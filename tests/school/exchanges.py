"""A school whose families would exchange their weekly places, in a term of twelve weeks."""

from datetime import date, datetime, timedelta
from typing import Any

from accounts.models import Student
from bookings import solving
from bookings.domain.vocabulary import Kind, PlanKind
from bookings.door import write
from bookings.models import Exchange, ExchangeMove, Offering, Plan, Term, WeeklyPlace
from bookings.operations.exchanges import accept_exchange, decline_exchange
from bookings.operations.plans import adopt_plan, ask_for_plan
from bookings.operations.weekly import take_weekly_place
from bookings.operations.wishes import wish_for_times
from tests import cast
from tests.cast import at
from tests.school.weekly import make_term

TAKEN_AT = at("2027-01-04T09:00Z")
ASKED_AT = at("2027-01-20T09:00Z")
"""A Wednesday: new times would begin on Monday 25 January."""
SAID_AT = ASKED_AT + timedelta(hours=5)
TUESDAY, WEDNESDAY, THURSDAY = 1, 2, 3


class ExchangingSchool:
    """Ilse teaches from Tuesday to Thursday in Dublin. Noor has Tuesdays at 16:30, Marlo Wednesdays
    at 17:00 and Posy, a minor with Hedda as guardian, Thursdays at 17:30. Each would rather have
    the time of the next, and Posy that of Noor.
    """

    def __init__(self) -> None:
        cast.make_policy()
        self.dag = cast.make_admin()
        self.ilse = cast.make_instructor()
        self.lesson = cast.make_offering("Harp lesson", Kind.PRIVATE_LESSON, 45)
        cast.teaches(self.ilse, self.lesson)
        cast.publish(self.ilse, "1 15:30-20:30, 2 15:30-20:30, 3 15:30-20:30")
        self.noor = cast.make_student("Noor Ashgrove", "America/New_York")
        self.marlo = cast.make_student("Marlo Vance", "Europe/Dublin")
        self.hedda = cast.make_user("Hedda Lindqvist-Reed", "Europe/Dublin")
        self.posy = cast.make_minor("Posy Lindqvist-Reed", "Europe/Dublin", guardian=self.hedda)
        self.term: Term = make_term(self.dag)
        self.noors = self.take(self.noor, TUESDAY, "16:30")
        self.marlos = self.take(self.marlo, WEDNESDAY, "17:00")
        self.posys = self.take(self.posy, THURSDAY, "17:30")

    def take(
        self, student: Student, weekday: int, wall: str, offering: Offering | None = None
    ) -> WeeklyPlace:
        hour, minute = map(int, wall.split(":"))
        return write(
            lambda: take_weekly_place(
                actor=self.dag,
                student=student,
                instructor=self.ilse,
                offering=offering or self.lesson,
                term=self.term,
                weekday=weekday,
                wall_at=60 * hour + minute,
                now=TAKEN_AT,
            ),
            now=TAKEN_AT,
        )

    def wish(
        self, place: WeeklyPlace, *wished: WeeklyPlace, now: datetime = ASKED_AT, **more: Any
    ) -> Any:
        ids = [one.pk for one in wished]
        return write(
            lambda: wish_for_times(actor=self.dag, place=place, wished=ids, now=now, **more),
            now=now,
        )

    def wish_in_a_circle(self) -> None:
        self.wish(self.noors, self.marlos)
        self.wish(self.marlos, self.posys, self.noors)
        self.wish(self.posys, self.noors)

    def solved(self) -> Plan:
        """The plan of the term, asked for and solved. The clock has to stand at ASKED_AT."""
        asked = {"term": self.term.pk}
        plan = write(
            lambda: ask_for_plan(actor=self.dag, kind=PlanKind.EXCHANGE, asked=asked, now=ASKED_AT),
            now=ASKED_AT,
        )
        solving.solve_plans()
        plan.refresh_from_db()
        return plan

    def adopt(self, plan: Plan, now: datetime = ASKED_AT) -> Plan:
        return write(lambda: adopt_plan(actor=self.dag, plan=plan, now=now), now=now)

    def asked(self) -> Exchange:
        """All three families have been asked."""
        self.wish_in_a_circle()
        self.adopt(self.solved())
        return Exchange.objects.get()

    def move_of(self, student: Student) -> ExchangeMove:
        return ExchangeMove.objects.get(place__student=student)

    def say_yes(self, student: Student, now: datetime = SAID_AT, **more: Any) -> ExchangeMove:
        return self._say(accept_exchange, student, now, **more)

    def say_no(self, student: Student, now: datetime = SAID_AT, **more: Any) -> ExchangeMove:
        return self._say(decline_exchange, student, now, **more)

    def _say(self, act: Any, student: Student, now: datetime, **more: Any) -> ExchangeMove:
        move = self.move_of(student)
        actor = student.user or self.hedda
        return write(lambda: act(actor=actor, move=move, now=now, **more), now=now)


def held_on(student: Student) -> list[date]:
    """The dates of the student's lessons, on the instructor's calendar."""
    held = student.bookings.filter(standing="HELD").order_by("starts_at")
    return [booking.meeting.wall_on for booking in held.select_related("meeting")]


def open_times(term: Term) -> dict[str, tuple[int, int]]:
    """Weekday and minute of each student's place, by first name."""
    rows = WeeklyPlace.objects.filter(term=term).not_ended().select_related("student")
    return {row.student.first_name: (row.weekday, row.wall_at) for row in rows}


def open_exchange(place: WeeklyPlace, other: Student) -> ExchangeMove:
    """An exchange with a place of the other student's, written directly; the move of `place`."""
    theirs = WeeklyPlace.objects.create(
        term=place.term,
        student=other,
        instructor=place.instructor,
        offering=place.offering,
        weekday=place.weekday,
        wall_at=place.wall_at + 60,
        time_zone=place.time_zone,
        policy=place.policy,
        made_at=cast.NOW,
    )
    plan = Plan.objects.create(
        kind=PlanKind.EXCHANGE,
        asked={"term": place.term_id},
        state="ADOPTED",
        answer={"orders": 2, "exchanges": [], "left_out": []},
        gap=0,
        made_at=cast.NOW,
        solved_at=cast.NOW,
        ended_at=cast.NOW,
    )
    exchange = Exchange.objects.create(
        plan=plan,
        term=place.term,
        made_at=cast.NOW,
        answer_by=cast.NOW + timedelta(days=2),
    )
    exchange.moves.create(place=theirs, takes=place, first_at=cast.NOW + timedelta(days=8))
    return exchange.moves.create(place=place, takes=theirs, first_at=cast.NOW + timedelta(days=8))
