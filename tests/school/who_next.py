"""An instructor with students who are due a review, and a plan that gives each of them a time."""

from datetime import timedelta
from typing import Any

from accounts.models import Student
from bookings import solving
from bookings.domain.vocabulary import PlanKind
from bookings.door import write
from bookings.models import Plan
from bookings.operations import plans
from bookings.operations.plans import adopt_plan
from tests import cast
from tests.cast import NOW
from tests.school.consultations import School

SEEN = timedelta(weeks=9)


class WaitingSchool(School):
    """Ilse teaches Tuesdays 16:00 to 17:00 in Dublin: two consultations. Noor, Kit and Lark were
    last seen nine weeks ago; Kit and Lark are children of Orsola, in Dublin.
    """

    def __init__(self, hours: str = "1 16:00-17:00") -> None:
        self.lessons = 0
        cast.make_policy(run_minutes=600)
        self.admin = cast.make_admin()
        self.ilse = cast.make_instructor()
        self.consultation = cast.make_offering()
        cast.teaches(self.ilse, self.consultation)
        cast.publish(self.ilse, hours)
        self.noor = cast.make_student()
        self.orsola = cast.make_user("Orsola Thorne")
        self.kit, self.lark = (
            cast.make_minor(f"{name} Thorne", "Europe/Dublin", guardian=self.orsola, level=level)
            for name, level in (("Kit", 2), ("Lark", 5))
        )
        for student in (self.noor, self.kit, self.lark):
            self.seen(student)

    def seen(self, student: Student, before: timedelta = SEEN) -> None:
        """A lesson of the student so long ago; each an hour before the last one made."""
        self.lessons += 1
        starts_at = NOW - before - timedelta(hours=self.lessons)
        cast.taught(self.ilse, student, self.consultation, starts_at)

    def ask(self, *, by_admin: bool = False, **more: Any) -> Plan:
        asked = {"instructor": self.ilse.pk, "offering": self.consultation.pk, **more}
        return write(
            lambda: plans.ask_for_plan(
                actor=self.admin if by_admin else self.ilse.user,
                kind=PlanKind.WHO_NEXT,
                asked=asked,
                instructor=None if by_admin else self.ilse,
                now=NOW,
            ),
            now=NOW,
        )

    def solved(self, **more: Any) -> Plan:
        """A plan, asked for and solved. The clock has to stand at NOW."""
        plan = self.ask(**more)
        solving.solve_plans()
        plan.refresh_from_db()
        return plan

    def adopt(self, plan: Plan) -> Plan:
        return write(lambda: adopt_plan(actor=self.ilse.user, plan=plan, now=NOW), now=NOW)
