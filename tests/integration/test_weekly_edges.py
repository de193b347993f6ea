"""Weekly places at their edges: who may move whose, lessons that were moved by themselves, load, and letters that wait."""

import pytest

from accounts.models import Student
from bookings.operations import locks
from bookings.queries.weekly import options_for
from tests import cast
from tests.weekly_school import NOW, School, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def school() -> School:
    return School()


def test_nobody_takes_a_place_with_herself(school):
    """Ilse learns here too: her own weekly times are not offered to her and refused, as a single lesson with herself is."""
    ilse = Student.objects.create(user=school.ilse.user, first_name="Ilse", surname="Quarrow", level=4, unit=2)
    assert options_for(term=school.term, offering=school.lesson, student=ilse, now=NOW).options == []
    refused("not-taught", lambda: school.take(ilse))


def test_a_place_of_a_student_who_teaches_locks_her_teaching_too(school, monkeypatch):
    """What she takes and what she gives may not overlap, so both instructors' time is locked before either is read."""
    wren = cast.make_instructor("Wren Halloway", "America/New_York")
    learner = Student.objects.create(user=wren.user, first_name="Wren", surname="Halloway", level=4, unit=2)
    locked = []
    lock = locks.lock_instructors
    monkeypatch.setattr(locks, "lock_instructors", lambda ids: locked.append(set(ids)) or lock(ids))
    school.take(learner)
    assert locked == [{school.ilse.pk, wren.pk}]
