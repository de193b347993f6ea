"""A term of forty students and two instructors on the demo school, through the pages alone: solved,
adjusted, solved again, adopted.
"""

import re
from typing import Any

import pytest

from bookings import solving
from bookings.models import Booking, OutboxMessage, Plan, WeeklyPlace
from bookings.queries.places_audit import findings
from tests.functional.pages.school import as_user, text_of
from tests.school.summer import Summer

pytestmark = pytest.mark.heavy
FIXING = re.compile(r'name="fixed" value="([\d@]+)"')
"""The box beside a place, with what it sends."""
WEEKS, FIXED = 10, 12


@pytest.fixture
def summer(db: None) -> Summer:
    return Summer()


def solved(answer: Any) -> Plan:
    """The plan to which a form has led, once it is solved."""
    assert answer.status_code == 302, text_of(answer)
    solving.solve_plans()
    plan = Plan.objects.latest("pk")
    assert answer["Location"] == f"/plans/{plan.pk}/"
    return plan


def places_of(plan: Plan) -> set[tuple[int, int, int, int]]:
    rows = (plan.answer or {})["placed"]
    return {(row["student"], row["instructor"], row["weekday"], row["wall_at"]) for row in rows}


def asked(summer: Summer) -> dict[str, Any]:
    """The form of a timetable for all forty with both instructors."""
    return {
        "term": summer.term.pk,
        "offering": summer.lesson.pk,
        "instructors": [one.pk for one in summer.instructors],
        "student": [one.pk for one in summer.students],
        "seconds": 60,
    }


def test_a_term_of_forty_is_solved_adjusted_and_adopted(summer: Summer) -> None:
    """Everybody has a place or a reason with what would give them one; the fixed places stay where
    they are, ticked, and beside the first plan only the others are told. Source: the demo school.
    """
    dag = as_user(summer.admin)
    first = solved(dag.post("/plans/term/", asked(summer)))
    page = text_of(dag.get(f"/plans/{first.pk}/"))
    unplaced = (first.answer or {})["unplaced"]
    assert (len(summer.students), len(places_of(first)) + len(unplaced)) == (40, 40)
    assert 0 < len(unplaced) <= 8
    assert page.count("would be possible") == len(unplaced)
    boxes = FIXING.findall(page)
    assert len(boxes) == len(places_of(first))

    fixed = boxes[::3][:FIXED]
    again = solved(dag.post(f"/plans/{first.pk}/again/", {"fixed": fixed}))
    assert {tuple(map(int, text.split("@"))) for text in fixed} <= places_of(again)
    assert len(places_of(again)) == len(places_of(first))
    beside = text_of(dag.get(f"/plans/{again.pk}/?beside={first.pk}"))
    moved = places_of(again) - places_of(first)
    assert beside.count("in the other plan:") == len(moved)
    assert len(re.findall(FIXING.pattern + " checked", beside)) == FIXED

    adopted_whole(summer, again)


def adopted_whole(summer: Summer, plan: Plan) -> None:
    """All places in one act, each with ten lessons; each family gets one email that is no calendar
    entry.
    """
    OutboxMessage.objects.all().delete()
    answer = as_user(summer.admin).post(f"/plans/{plan.pk}/adopt/", {"version": plan.version})
    assert answer.status_code == 302, text_of(answer)
    kept = WeeklyPlace.objects.filter(term=summer.term)
    taken = set(kept.values_list("student_id", "instructor_id", "weekday", "wall_at"))
    assert taken == places_of(plan)
    lessons = Booking.objects.held().filter(meeting__weekly_place__in=kept)
    assert lessons.count() == len(taken) * WEEKS
    assert list(findings()) == []
    told = OutboxMessage.objects.filter(kind="told", due_at=summer.now)
    readers = list(told.values_list("recipient", flat=True))
    assert len(readers) == len(set(readers))
