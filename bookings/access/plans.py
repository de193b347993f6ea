"""The plans that a person may see and decide on."""

from django.db.models import Prefetch

from accounts.models import Instructor, User
from bookings.access.instructors import instructor_of
from bookings.access.refusals import not_there
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlanKind
from bookings.models import AskedHours, Plan, PlanQuerySet


def plans_of(user: User) -> PlanQuerySet:
    """Every plan for an admin, their own for an instructor. Refused("not-allowed") for others."""
    asked = AskedHours.objects.only("plan", "answered_at")
    rows = Plan.objects.select_related("made_by", "ended_by", "instructor__user")
    rows = rows.prefetch_related(Prefetch("asked_hours", asked))
    if user.is_staff:
        return rows
    instructor = instructor_of(user)
    if instructor is None:
        raise Refused("not-allowed", "Only an admin can do this.")
    return rows.filter(instructor=instructor)


def access_plan(user: User, plan_id: int) -> Plan:
    """A plan that this person may see and decide on. Refused("not-found")."""
    found = plans_of(user).filter(pk=plan_id).first()
    if found is None:
        raise not_there()
    return found


def whose_plan(user: User, kind: PlanKind) -> Instructor | None:
    """Whose a new plan of this kind is: the school's for an admin, else the instructor's own.

    Refused("not-allowed") for a kind that is not theirs.
    """
    if user.is_staff:
        return None
    instructor = instructor_of(user)
    if instructor is None or kind != PlanKind.WHO_NEXT:
        raise Refused("not-allowed", "Only an admin can do this.")
    return instructor
