"""Practice in several tabs at one moment, and a plan released meanwhile."""

from datetime import date

import pytest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, PracticeTick
from bookings.operations.notes import release_assessment
from bookings.operations.practice import tick
from bookings.queries.practice import latest_plan
from tests import cast
from tests.cast import NOW
from tests.threads import together

pytestmark = pytest.mark.django_db(transaction=True)

PLAN = [{"what": "Scales in thirds", "minutes": 10, "is_review": False}]


@pytest.fixture
def plan():
    cast.make_policy()
    ilse, noor = cast.make_instructor(), cast.make_student()
    cast.taught(ilse, noor, cast.make_offering())
    return cast.make_assessment(noor, ilse, state="released", released_at=NOW, practice=PLAN)


def ticks(plan):
    """An act that ticks the first item for today."""
    named = {"student_id": plan.student_id, "assessment_id": plan.pk, "item": 0}
    actor, today = plan.student.user, date(2027, 3, 1)
    return lambda: write(lambda: tick(actor=actor, on=today, now=NOW, **named), now=NOW)


def test_four_tabs_tick_at_once(plan):
    """All succeed, and one tick with one audit row is there."""
    assert together(*[ticks(plan)] * 4) == []
    assert PracticeTick.objects.count() == AuditRow.objects.filter(verb="ticked").count() == 1


def test_a_release_meets_a_tick(plan):
    """Either the tick came first and stays with its plan, or it is refused and the new plan has
    none.
    """
    draft = cast.make_assessment(plan.student, plan.author, practice=PLAN)
    author = plan.author.user
    raised = together(
        ticks(plan),
        lambda: write(lambda: release_assessment(actor=author, note=draft, now=NOW), now=NOW),
    )
    assert latest_plan(plan.student).pk == draft.pk
    assert not draft.ticks.exists()
    assert plan.ticks.count() + len(raised) == 1
    assert all(isinstance(error, Refused) and error.code == "newer-assessment" for error in raised)
