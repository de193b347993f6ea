"""A school in which Ilse is ill: Wren teaches the same, and Soren too where a test says so."""

from datetime import datetime, timedelta
from typing import Any

from accounts.models import Instructor, Student
from bookings import solving
from bookings.domain.timeline import rfc3339
from bookings.domain.vocabulary import PlanKind, PlanState
from bookings.door import write
from bookings.models import Booking, CoverQuestion, Plan
from bookings.operations import booking, cover_questions, plans
from tests import cast
from tests.cast import EVERY_DAY, NOW, at

DAY = at("2027-03-12T00:00Z")
"""Friday 12 March 2027, winter time in Dublin and New York: 5 hours apart."""
DECIDED_AT = NOW + timedelta(hours=1)


class CoveringSchool:
    """Ilse, in Dublin, teaches every day; Wren, in New York, from 12:00 to 20:00 UTC that week."""

    def __init__(self, wren: str = "4 07:00-15:00") -> None:
        cast.make_policy()
        self.admin = cast.make_admin()
        self.offering = cast.make_offering()
        self.ilse = cast.make_instructor()
        self.wren = cast.make_instructor("Wren Halloway", "America/New_York")
        cast.publish(self.ilse, EVERY_DAY)
        cast.publish(self.wren, wren)
        for instructor in (self.ilse, self.wren):
            cast.teaches(instructor, self.offering)
        self.noor = cast.make_student()
        self.hedda = cast.make_user("Hedda Lindqvist-Reed", "Europe/Dublin")
        self.posy = cast.make_minor(time_zone="Europe/Dublin", guardian=self.hedda)
        self.kit = cast.make_minor("Kit Lindqvist-Reed", "Europe/Dublin", guardian=self.hedda)

    def book(self, student: Student, hours: float, instructor: Instructor | None = None) -> Booking:
        """A lesson of the ill day, so many hours after midnight UTC."""
        return write(
            lambda: booking.book_slot(
                actor=self.admin,
                student=student,
                offering=self.offering,
                instructor=instructor or self.ilse,
                starts_at=DAY + timedelta(hours=hours),
                now=NOW,
            ),
            now=NOW,
        )

    def asked(self, **more: Any) -> dict[str, Any]:
        return {
            "instructor": self.ilse.pk,
            "starts_at": DAY,
            "ends_at": DAY + timedelta(days=1),
            **more,
        }

    def ask(self, now: datetime = NOW, **more: Any) -> Plan:
        asked, act = self.asked(**more), plans.ask_for_plan
        return write(
            lambda: act(actor=self.admin, kind=PlanKind.COVER, asked=asked, now=now), now=now
        )

    def solved(self, **more: Any) -> Plan:
        """A plan, asked for and solved. The clock has to stand at NOW."""
        return self.solve(self.ask(**more))

    def solve(self, plan: Plan) -> Plan:
        solving.solve_plans()
        plan.refresh_from_db()
        return plan

    def decide(self, verb: Any, plan: Plan, now: datetime = DECIDED_AT, **more: Any) -> Plan:
        return write(lambda: verb(actor=self.admin, plan=plan, now=now, **more), now=now)

    def ask_substitutes(self, plan: Plan) -> list[CoverQuestion]:
        self.decide(cover_questions.ask_substitutes, plan)
        return list(CoverQuestion.objects.filter(plan=plan))

    def answer(self, question: CoverQuestion, *, says_yes: bool) -> CoverQuestion:
        act = cover_questions.answer_cover_question
        who = question.instructor.user
        return write(
            lambda: act(actor=who, question=question, says_yes=says_yes, now=DECIDED_AT),
            now=DECIDED_AT,
        )


def cover_plan(lesson: Booking, to: Instructor, **more: Any) -> Plan:
    """An answered plan: `to` takes this lesson with their own yes, of which nobody has asked."""
    starts_at = lesson.starts_at
    row = {
        "meeting": lesson.meeting_id,
        "student": lesson.student_id,
        "starts_at": rfc3339(starts_at),
        "from": None,
        "to": to.pk,
        "makes_room_for": None,
        "has_met": False,
        "needs_yes": ["outside-hours"],
        "said_yes": False,
        "waits": True,
    }
    asked = {
        "instructor": lesson.meeting.instructor_id,
        "starts_at": rfc3339(starts_at - timedelta(hours=1)),
        "ends_at": rfc3339(starts_at + timedelta(hours=4)),
    }
    return Plan.objects.create(
        kind=PlanKind.COVER,
        state=PlanState.READY,
        asked=asked,
        answer={"handovers": [row], "uncovered": []},
        gap=0,
        made_at=NOW,
        solved_at=NOW,
        **more,
    )


def cover_question(lesson: Booking, to: Instructor) -> CoverQuestion:
    """What the substitute is asked by such a plan."""
    return CoverQuestion.objects.create(
        plan=cover_plan(lesson, to),
        meeting=lesson.meeting,
        instructor=to,
        starts_at=lesson.starts_at,
        asked_at=NOW,
    )
