"""Who is next on the pages: asked from Due a review, read by its instructor and by admins."""

from datetime import timedelta
from typing import Any

import pytest

from bookings import solving
from bookings.models import Plan, ProposedTimes
from tests.cast import NOW, taught
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.sql


@pytest.fixture
def due(school: School) -> School:
    """Ilse last saw Posy ten weeks ago and Marlo nine."""
    taught(school.ilse, school.marlo, school.consultation, NOW - timedelta(weeks=9))
    taught(school.ilse, school.posy, school.consultation, NOW - timedelta(weeks=10))
    return school


def asked(school: School, reader: Any, **more: Any) -> str:
    """The address of a solved plan, asked for on the page."""
    data = {"offering": school.consultation.pk, **more}
    response = as_user(reader).post("/plans/who-next/", data)
    assert response.status_code == 302, text_of(response)
    solving.solve_plans()
    return str(response["Location"])


def test_due_a_review_leads_there(due: School) -> None:
    """The list names the way only where somebody is due."""
    assert "/plans/who-next/?instructor=" in text_of(as_user(due.ilse.user).get("/due-a-review/"))
    assert "/plans/who-next/" not in text_of(as_user(due.wren.user).get("/due-a-review/"))


def test_the_plan_says_whom_why_and_when_on_both_clocks(due: School) -> None:
    """A minor goes by the first name; what an hour costs a family is not on the page."""
    page = text_of(as_user(due.ilse.user).get(asked(due, due.ilse.user)))
    assert "Not seen for 9 weeks." in page
    assert "Marlo Vance" in page
    assert "New York" in page
    assert "Posy" in page
    assert "Lindqvist" not in page
    assert "What the times cost the student" not in page
    assert "0 is an easy hour" not in page


def test_whoever_gets_no_time_is_told_with_the_reason(due: School) -> None:
    """Ilse's hours lie in Posy's night in Sydney."""
    plan = text_of(as_user(due.ilse.user).get(asked(due, due.ilse.user)))
    assert "A time was found for 1 of 2 students" in plan
    assert "No free time suits this student." in plan


def test_an_admin_asks_for_any_instructor_and_reads_the_costs(due: School) -> None:
    """The form names the instructor of the list that led there."""
    dag = as_user(due.dag)
    form = text_of(dag.get(f"/plans/who-next/?instructor={due.ilse.pk}"))
    assert 'name="instructor" value="Ilse Quarrow, ilse@rowanmere.example"' in form
    page = text_of(dag.get(asked(due, due.dag, instructor=due.ilse.pk)))
    assert "What the times cost the student" in page
    assert "Posy Lindqvist-Reed" in page


def test_adopting_proposes_the_times(due: School) -> None:
    """The page asks once and says what follows."""
    address, ilse = asked(due, due.ilse.user), as_user(due.ilse.user)
    assert "held until they answer" in text_of(ilse.get(f"{address}adopt/"))
    version = Plan.objects.get().version
    assert ilse.post(f"{address}adopt/", {"version": version}).status_code == 302
    assert ProposedTimes.objects.unanswered().get().student == due.marlo


def test_a_lesson_that_is_not_taught_is_refused_on_the_form(due: School) -> None:
    """Nothing is asked for."""
    data = {"instructor": due.wren.pk, "offering": 999_999}
    assert as_user(due.dag).post("/plans/who-next/", data).status_code == 422
    assert not Plan.objects.exists()
