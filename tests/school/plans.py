"""A school that decides jointly: a studio class with members in Dublin, New York and Kolkata."""

from datetime import datetime, timedelta
from typing import Any

from accounts.models import Instructor, Student
from bookings import solving
from bookings.domain.vocabulary import Kind, PlanKind, PlanState
from bookings.door import write
from bookings.models import AskedHours, Offering, Plan, WeeklyPlace
from bookings.operations import plans
from tests import cast

ASKED_AT = cast.at("2027-01-20T09:00Z")
"""Before the dates of the check values for fair times, which stand on 3 February 2027."""
DECIDED_AT = ASKED_AT + timedelta(hours=1)
NO_LIMITS = {
    "run_minutes": 1440,
    "day_minutes": 1440,
    "week_minutes": 10080,
    "night_rest_minutes": 0,
}


class PlanningSchool:
    """Ilse teaches on Wednesdays, 06:00 to midnight in Dublin, and no load limits them."""

    def __init__(self) -> None:
        cast.make_policy(**NO_LIMITS)
        self.admin = cast.make_admin()
        self.ilse = cast.make_instructor()
        cast.publish(self.ilse, "2 06:00-24:00")
        self.offering = cast.make_offering("Studio class", Kind.GROUP_MEETING, 60)
        cast.teaches(self.ilse, self.offering)
        self.oona = cast.make_student("Oona Brack", "Europe/Dublin")
        self.noor = cast.make_student("Noor Ashgrove", "America/New_York")
        self.asha = cast.make_student("Asha Merrow", "Asia/Kolkata")

    def asked(self, **more: Any) -> dict[str, Any]:
        """A request for one meeting of the three on 3 February 2027, changed by `more`."""
        members: list[Student] = more.pop("members", [self.oona, self.noor, self.asha])
        return {
            "offering": self.offering.pk,
            "instructors": [self.ilse.pk],
            "students": [student.pk for student in members],
            "first_on": "2027-02-03",
            "last_on": "2027-02-03",
            "mode": "series",
            "meetings": 1,
            "days_apart": 7,
            "places": 8,
            "title": "Ornaments",
            "seconds": 60,
            **more,
        }

    def ask(self, now: datetime = ASKED_AT, **more: Any) -> Plan:
        asked = self.asked(**more)
        act = plans.ask_for_plan
        return write(
            lambda: act(actor=self.admin, kind=PlanKind.GROUP, asked=asked, now=now), now=now
        )

    def solved(self, **more: Any) -> Plan:
        """A plan, asked for and solved. The clock has to stand at ASKED_AT."""
        plan = self.ask(**more)
        solving.solve_plans()
        plan.refresh_from_db()
        return plan

    def decide(self, verb: Any, plan: Plan, now: datetime = DECIDED_AT, **more: Any) -> Plan:
        return write(lambda: verb(actor=self.admin, plan=plan, now=now, **more), now=now)


def starts_of(answer: dict[str, Any]) -> list[str]:
    """The starts of an answer's meetings, in their order."""
    return [meeting["starts_at"] for meeting in answer["meetings"]]


def plan_row(offering: Offering, instructor: Instructor, student: Student, **more: Any) -> Plan:
    """A group plan for one student on 3 March 2027, still to be solved."""
    asked = {
        "offering": offering.pk,
        "instructors": [instructor.pk],
        "students": [student.pk],
        "first_on": "2027-03-03",
        "last_on": "2027-03-03",
        "mode": "series",
        "meetings": 1,
        "days_apart": 7,
        "places": 8,
        "title": "Ornaments",
    }
    return Plan.objects.create(kind=PlanKind.GROUP, asked=asked, made_at=cast.NOW, **more)


def answered_plan(offering: Offering, instructor: Instructor, student: Student) -> Plan:
    """The same, solved: one meeting on 3 March at 15:00 UTC."""
    row = {
        "starts_at": "2027-03-03T15:00:00Z",
        "instructor": instructor.pk,
        "burdens": {str(student.pk): 0},
    }
    member = {"student": student.pk, "carried": 0, "added": 0}
    answer = {"meetings": [row], "members": [member], "unplaced": [], "split": [], "day": {}}
    return plan_row(
        offering,
        instructor,
        student,
        state=PlanState.READY,
        answer=answer,
        gap=0,
        solved_at=cast.NOW,
    )


def asking_plan(offering: Offering, instructor: Instructor, *students: Student) -> Plan:
    """The same, open to these students' families until 2 March 2027, 18:00 UTC."""
    plan = answered_plan(offering, instructor, students[0])
    plan.answer_by = cast.at("2027-03-02T18:00Z")
    plan.save()
    AskedHours.objects.bulk_create(
        AskedHours(
            plan=plan, student=one, said={"windows": [], "school": None, "is_presumed": True}
        )
        for one in students
    )
    return plan


def answered_timetable(place: WeeklyPlace) -> Plan:
    """A timetable that keeps this one place, and leaves another student out."""
    other = cast.make_student("Otis Fenwick")
    at = {"instructor": place.instructor_id, "weekday": place.weekday, "wall_at": place.wall_at}
    row = {"student": place.student_id, **at, "burden": 1, "before": at}
    change = {"needs": ["load"], **at, "burden": 3, "moves": []}
    return Plan.objects.create(
        kind=PlanKind.TIMETABLE,
        asked={
            "term": place.term_id,
            "offering": place.offering_id,
            "instructors": [place.instructor_id],
            "students": [place.student_id, other.pk],
        },
        state=PlanState.READY,
        answer={
            "placed": [row],
            "unplaced": [{"student": other.pk, "why": "taken", "change": change}],
        },
        gap=0.02,
        made_at=cast.NOW,
        solved_at=cast.NOW,
    )


def answered_who_next(offering: Offering, instructor: Instructor, *students: Student) -> Plan:
    """Who is next, solved: the first student gets 3 March at 15:00 UTC, the others no time."""
    first, *others = students
    due = ["Not seen for 9 weeks."]
    starts = [f"2027-03-{day}T15:00:00Z" for day in ("03", "04", "10")]
    row = {"student": first.pk, "due": due, "starts_at": starts[0], "others": starts[1:]}
    why = "No free time suits this student."
    answer = {
        "proposals": [row],
        "unreached": [{"student": one.pk, "due": due, "why": why} for one in others],
        "burdens": {str(first.pk): [0, 1, 1]},
    }
    return Plan.objects.create(
        kind=PlanKind.WHO_NEXT,
        instructor=instructor,
        asked={"instructor": instructor.pk, "offering": offering.pk},
        state=PlanState.READY,
        answer=answer,
        gap=0,
        made_at=cast.NOW,
        solved_at=cast.NOW,
    )
