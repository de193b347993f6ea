"""A timetable is solved again around fixed places; no other kind of plan is."""

from bookings.models import Plan
from tests.functional.pages.school import School, as_user
from tests.school.plans import answered_plan


def test_a_plan_of_another_kind_is_not_solved_again_as_a_timetable(school: School) -> None:
    """There is nothing at that address, and no plan is made."""
    plan = answered_plan(school.circle.offering, school.ilse, school.noor)
    reply = as_user(school.dag).post(f"/plans/{plan.pk}/again/", {"fixed": "1@1@1@990"})
    assert reply.status_code == 404
    assert Plan.objects.count() == 1
