"""Choosing students for a plan: several searches add up, all of a search are ticked at once."""

import re

import pytest

from accounts.models import Student
from bookings.models import Plan
from tests.functional.pages.school import School, as_user, text_of

PAGES = ["/plans/group/", "/plans/term/"]


def boxes(page: str) -> dict[str, bool]:
    """The students that a page shows by their id, and whether each is ticked."""
    found = re.findall(r'name="student" value="(\d+)"( checked)?', page)
    assert len(dict(found)) == len(found)
    return {pk: bool(ticked) for pk, ticked in found}


@pytest.mark.parametrize("address", PAGES)
def test_a_second_search_keeps_who_is_ticked_and_what_is_typed(
    school: School, address: str
) -> None:
    """Noor is ticked; a search for Marlo shows both, and nothing is judged or asked for."""
    noor, marlo = str(school.noor.pk), str(school.marlo.pk)
    sent = {
        "then": "show",
        "q": "Marlo",
        "student": noor,
        "consent": noor,
        "seconds": "600",
        "instructors": school.ilse.pk,
    }
    response = as_user(school.dag).post(address, sent)
    page = text_of(response)
    assert response.status_code == 200
    assert boxes(page) == {noor: True, marlo: False}
    assert '<option value="600" selected>' in page
    assert re.search(rf'name="instructors" value="{school.ilse.pk}"[^>]* checked', page)
    assert ("consent" in page) == (f'name="consent" value="{noor}" checked' in page)
    assert 'class="why"' not in page
    assert not Plan.objects.exists()


@pytest.mark.parametrize("address", PAGES)
def test_all_of_a_search_are_ticked_by_one_button(school: School, address: str) -> None:
    """Those of another level who were ticked before stay so."""
    noor, dag = str(school.noor.pk), as_user(school.dag)
    Student.objects.filter(pk=school.marlo.pk).update(level=9)
    sent = {"then": "tick-all", "level": 9, "student": noor}
    found = boxes(text_of(dag.post(address, sent)))
    assert found == {noor: True, str(school.marlo.pk): True}
    assert not Plan.objects.exists()


def test_a_plan_that_lacks_something_keeps_who_is_ticked(school: School) -> None:
    """Also somebody whom the search of the address does not find."""
    noor = str(school.noor.pk)
    response = as_user(school.dag).post("/plans/group/?q=Marlo", {"student": noor})
    assert response.status_code == 422
    assert boxes(text_of(response))[noor]
