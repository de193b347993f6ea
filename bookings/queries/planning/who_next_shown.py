"""The answer to who is next, with the people whom it names."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from accounts.models import Instructor, Student
from bookings.access import name_for
from bookings.domain.plans import FAMILIES_COSTS
from bookings.domain.zones import zone
from bookings.models import Offering, Plan
from bookings.queries.teaching import zone_of_hours


@dataclass(frozen=True, slots=True)
class NextStudent:
    """A student with the sentences that say why they are due, and their times, the first of which
    is held. `burdens` is what each time costs the student (0-20), for admins alone. Without times
    `why` says the reason.
    """

    student: Student
    name: str
    due: Sequence[str]
    times: Sequence[datetime] = ()
    burdens: Sequence[int] = ()
    why: str = ""


@dataclass(frozen=True, slots=True)
class ShownWhoNext:
    """The answer, the proposals by time; `time_zone` is the clock of the instructor's hours."""

    offering: Offering
    instructor: Instructor
    time_zone: str
    proposals: Sequence[NextStudent]
    unreached: Sequence[NextStudent]

    @property
    def first_day(self) -> date | None:
        """The date of the first proposal on the instructor's clock."""
        if not self.proposals:
            return None
        return self.proposals[0].times[0].astimezone(zone(self.time_zone)).date()

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing in it to adopt."""
        return not self.proposals

    @property
    def verdict(self) -> str:
        """The answer in one sentence."""
        reached = len(self.proposals)
        due = reached + len(self.unreached)
        if not due:
            return "Nobody is due a review"
        if not reached:
            return "No time was found"
        if not self.unreached:
            return "A time was found for everybody who is due"
        return f"A time was found for {reached} of {due} students"


def shown_who_next(plan: Plan) -> ShownWhoNext:
    """A plan of who is next: three queries.

    In an instructor's own plan a minor is named without a surname, whoever reads it.
    """
    answer: dict[str, Any] = plan.answer or {}
    instructors = Instructor.objects.select_related("user", "week")
    instructor = instructors.get(pk=plan.asked["instructor"])
    rows = [*answer["proposals"], *answer["unreached"]]
    students = Student.objects.select_related("user").in_bulk([row["student"] for row in rows])
    costs = answer[FAMILIES_COSTS]
    return ShownWhoNext(
        offering=Offering.objects.get(pk=plan.asked["offering"]),
        instructor=instructor,
        time_zone=zone_of_hours(instructor),
        proposals=[_shown(plan, row, students, costs) for row in answer["proposals"]],
        unreached=[_shown(plan, row, students, costs) for row in answer["unreached"]],
    )


def _shown(
    plan: Plan,
    row: Mapping[str, Any],
    students: Mapping[int, Student],
    costs: Mapping[str, Sequence[int]],
) -> NextStudent:
    student, owner = students[row["student"]], plan.instructor
    times = [row["starts_at"], *row["others"]] if "starts_at" in row else []
    return NextStudent(
        student=student,
        name=name_for(owner.user, student, plan.made_at) if owner else student.full_name,
        due=row["due"],
        times=[datetime.fromisoformat(text) for text in times],
        burdens=costs.get(str(student.pk), ()),
        why=row.get("why", ""),
    )
