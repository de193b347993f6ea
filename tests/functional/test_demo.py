"""The invented school that visitors look at.

The story told about it over HTTP is run by `make demo-once`, not here.
"""

from datetime import UTC, datetime, timedelta

import pytest
from django.apps import apps

from accounts.models import Instructor
from bookings.demo import day, people, school
from bookings.domain.families import is_child
from bookings.domain.zones import zone
from bookings.models import Assessment, Booking, Meeting, PracticeTick, WaitingPlace
from bookings.queries.today import bookings_of_day
from tests.cast import NOW

TABLES = [
    model for label in ("accounts", "bookings") for model in apps.get_app_config(label).get_models()
]

pytestmark = pytest.mark.django_db


def test_the_school_loads_once() -> None:
    """A second load changes nothing: not one table has a row more."""
    assert school.load(now=NOW)
    before = {model.__name__: model._default_manager.count() for model in TABLES}
    assert not school.load(now=NOW + timedelta(hours=1))
    assert {model.__name__: model._default_manager.count() for model in TABLES} == before


@pytest.mark.parametrize(
    "now",
    [NOW, datetime(2026, 11, 25, 17, 40, tzinfo=UTC), datetime(2028, 2, 29, 23, 59, tzinfo=UTC)],
)
def test_the_school_has_what_the_pages_show(now: datetime) -> None:
    """On whatever day it is loaded there is something of everything, and every start lies in waking
    hours of whoever comes.
    """
    school.load(now=now)
    assert Meeting.objects.filter(starts_at__gt=now, offering__kind="group-meeting").count() == 3
    assert WaitingPlace.objects.filter(ended_at=None).count() == 4
    assert Assessment.objects.filter(state="released").count() == 7
    assert Assessment.objects.filter(state="draft").count() == 1
    assert {str(student.time_zone) for student in people.STUDENTS} >= {
        "Australia/Lord_Howe",
        "Pacific/Chatham",
        "Asia/Kathmandu",
    }
    held = Booking.objects.filter(starts_at__gt=now).select_related("student__user")
    assert held.count() >= 20
    for booking in held:
        assert 7 <= booking.starts_at.astimezone(zone(booking.student.zone)).hour < 22


def test_the_school_has_a_day_of_eight_consultations() -> None:
    """Whoever loads it finds them today in Kathmandu: each with a question, some with an earlier
    note and ticks, two of minors.
    """
    school.load(now=NOW)
    tenzin = Instructor.objects.get(user__name=people.TENZIN.name)
    rows = bookings_of_day(tenzin, day.today_in_kathmandu(NOW))
    assert [row.student.first_name for row in rows] == [
        planned.student.name.split()[0] for planned in day.DAY
    ]
    assert all(row.intake.questions for row in rows)
    ticked = {row.student.first_name: row.student for row in rows}
    assert [
        PracticeTick.objects.filter(assessment__student=ticked[name]).count()
        for name in ("Posy", "Tova", "Ishani")
    ] == [4, 8, 11]
    assert sum(is_child(row.student, NOW) for row in rows) == 2
