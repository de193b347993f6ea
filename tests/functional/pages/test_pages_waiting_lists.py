"""An admin changes a waiting list from the roster: with a reason, and never its order."""

import re
from typing import Any

import pytest

from bookings.models import WaitingPlace
from tests.cast import NOW, make_booking
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.sql

WHY = {"reason": "asked by telephone"}


@pytest.fixture
def roster(school: School) -> str:
    """Noor holds the one place, and Posy waits for it."""
    make_booking(school.circle, school.noor)
    WaitingPlace.objects.create(meeting=school.circle, student=school.posy, joined_at=NOW)
    return f"/meetings/{school.circle.pk}/"


def typed(page: str, **more: Any) -> dict[str, Any]:
    return {**WHY, "version": re.findall(r'name="version" value="(\d+)"', page)[0], **more}


def test_the_next_place_is_held_for_a_student_found_by_name(school: School, roster: str) -> None:
    """The exception stands beside the name; then it is let go of."""
    dag = as_user(school.dag)
    page = text_of(dag.get(roster, {"find": "marlo"}))
    assert f'formaction="{roster}waiting-list/change/">Hold the next free place' in page
    asked = typed(page, who=school.marlo.pk, then="hold")
    assert dag.post(roster + "waiting-list/change/", asked).status_code == 302
    page = text_of(dag.get(roster))
    assert (
        "Marlo Vance, second. <strong>An exception: the next free place is held for them." in page
    )
    assert "Posy Lindqvist-Reed, first</span>" in page
    asked = typed(page, waits=f"player-{school.marlo.pk}", then="let-go")
    assert dag.post(roster + "waiting-list/change/", asked).status_code == 302
    assert "An exception" not in text_of(dag.get(roster))


def test_a_student_is_put_on_the_list_and_taken_off(school: School, roster: str) -> None:
    """Last; with one email each way."""
    dag, change = as_user(school.dag), roster + "waiting-list/change/"
    assert dag.post(change, {**WHY, "who": school.marlo.pk, "then": "wait"}).status_code == 302
    page = text_of(dag.get(roster))
    assert "Marlo Vance, second" in page
    asked = typed(page, waits=f"player-{school.posy.pk}", then="leave")
    assert dag.post(change, asked).status_code == 302
    assert "Marlo Vance, first" in text_of(dag.get(roster))


def test_a_refusal_keeps_what_was_typed(school: School, roster: str) -> None:
    """No reason, no student, an old page."""
    dag, change = as_user(school.dag), roster + "waiting-list/change/"
    waits = f"player-{school.posy.pk}"
    answer = dag.post(change, {"waits": waits, "then": "hold", "reason": " "})
    assert (answer.status_code, "Say why" in text_of(answer)) == (422, True)
    answer = dag.post(change, {**WHY, "waits": waits, "then": "hold", "version": "99"})
    page = text_of(answer)
    assert answer.status_code == 412
    assert f'<option value="{waits}" selected>' in page
    assert page.count('value="asked by telephone"') == 1
    answer = dag.post(change, {**WHY, "then": "wait"})
    assert (answer.status_code, "Choose a student" in text_of(answer)) == (422, True)


def test_an_instructor_reads_the_list_and_changes_nothing(school: School, roster: str) -> None:
    """It is the school's, not theirs."""
    ilse = as_user(school.ilse.user)
    assert "Take off the waiting list" not in text_of(ilse.get(roster))
    asked = {**WHY, "waits": f"player-{school.posy.pk}", "then": "leave"}
    assert ilse.post(roster + "waiting-list/change/", asked).status_code == 403
