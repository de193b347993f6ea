"""Lists alike everywhere: searched, filtered and turned by the address alone, without a script."""

import re
from datetime import timedelta

import pytest

from bookings.models import MoveRequest, Plan, ProposedTimes
from tests.cast import NOW, make_booking, make_meeting, make_student
from tests.functional.pages.full_school import fill
from tests.functional.pages.school import School, as_user, text_of
from tests.school.plans import plan_row

pytestmark = pytest.mark.sql

TURNED = ("/people/", "/my-students/", "/due-a-review/", "/meetings/")
SEARCHED = (*TURNED, "/move-requests/")


@pytest.fixture
def full(school: School) -> School:
    fill(school)
    return school


@pytest.mark.parametrize("address", TURNED)
def test_a_page_says_its_number_and_leads_on_with_what_was_asked(
    full: School, address: str
) -> None:
    """The search stands in the address of the next page, and so does a filter."""
    dag = as_user(full.dag)
    shown = text_of(dag.get(address, {"q": "a"}))
    pages = re.search(r"Page 1 of (\d+)", shown)
    assert pages is not None
    following = re.search(r'<a rel="next" href="([^"]+)"', shown)
    assert following is not None
    assert "q=a" in following[1]
    last = pages[1]
    second = text_of(dag.get(address + following[1].replace("&amp;", "&")))
    assert f"Page 2 of {last}" in second
    assert 'value="a"' in second
    assert f"Page {last} of {last}" in text_of(dag.get(address, {"q": "a", "page": "99999"}))
    for wrong in ("0", "-1", "x", "²", "9" * 40, ""):
        assert f"Page 1 of {last}" in text_of(dag.get(address, {"q": "a", "page": wrong}))


@pytest.mark.parametrize("address", SEARCHED)
def test_words_that_find_nothing_say_so_and_lead_back(full: School, address: str) -> None:
    """Words that mean something to a database mean nothing here; too many of them are refused."""
    dag = as_user(full.dag)
    for words in ("zzzz", "%", "_' OR 1=1", "\u202eنور", "\x00"):
        response = dag.get(address, {"q": words})
        assert response.status_code == 200, words
        if words.strip("\x00"):
            assert f'<a href="{address}' in text_of(response).partition("Show all")[0]
    assert "match" in text_of(dag.get(address, {"q": "zzzz"}))
    refused = dag.get(address, {"q": "x" * 81})
    assert refused.status_code == 422
    assert 'class="why"' in text_of(refused)


def test_a_request_is_found_by_the_student_and_the_instructor(school: School) -> None:
    """An admin chooses among all instructors; an instructor is not asked."""
    _ask(school)
    dag, ilse = as_user(school.dag), as_user(school.ilse.user)
    for query, found in (
        ({"q": "ashgrove"}, True),
        ({"q": "vance"}, False),
        ({"instructor": school.ilse.pk}, True),
        ({"instructor": school.wren.pk}, False),
    ):
        assert ("Move it" in text_of(dag.get("/move-requests/", query))) is found, query
    assert "No request matches." in text_of(dag.get("/move-requests/", {"q": "vance"}))
    assert dag.get("/move-requests/", {"instructor": "x"}).status_code == 422
    assert 'name="instructor"' not in text_of(ilse.get("/move-requests/"))


def test_a_proposal_is_found_by_the_student(school: School) -> None:
    """Twenty a page; a minor's surname finds nothing for an instructor."""
    for number in range(21):
        _propose(school, make_student(f"Fenn Dunmore-{number}"))
    _propose(school, school.posy)
    ilse = as_user(school.ilse.user)
    assert "Page 1 of 2" in text_of(ilse.get("/proposed-times/"))
    assert "with Posy" in text_of(ilse.get("/proposed-times/", {"q": "posy"}))
    assert "No proposed time matches." in text_of(ilse.get("/proposed-times/", {"q": "lindqvist"}))


def test_a_meeting_is_found_by_its_title_and_by_who_is_in_it(school: School) -> None:
    """Past ones too; a minor's surname finds nothing for an instructor, as on My students."""
    make_booking(school.circle, school.posy)
    ilse = as_user(school.ilse.user)
    for words, found in (("without LOOKING", True), ("posy", True), ("lindqvist", False)):
        text = text_of(ilse.get("/meetings/", {"q": words}))
        assert ("Placing without looking" in text) is found, words
    over = make_meeting(school.consultation, school.ilse, NOW - timedelta(days=3))
    make_booking(over, school.noor)
    past = text_of(ilse.get("/meetings/", {"past": "yes", "q": "noor"}))
    assert "with Noor Ashgrove" in past
    assert '<input type="hidden" name="past" value="yes">' in past
    noor = as_user(school.noor.user)
    assert "Placing without" in text_of(noor.get("/meetings/", {"q": "quarrow placing"}))
    assert "No group meeting matches." in text_of(noor.get("/meetings/", {"q": "ashgrove"}))


def test_plans_are_filtered_by_kind_and_state(school: School) -> None:
    """A kind or a state that there is not is refused beside its field."""
    plan_row(school.group, school.ilse, school.noor)
    assert Plan.objects.count() == 1
    dag = as_user(school.dag)
    assert "When the group should meet</a>" in text_of(dag.get("/plans/", {"kind": "group"}))
    assert "No plan matches." in text_of(dag.get("/plans/", {"kind": "cover"}))
    assert "No plan matches." in text_of(dag.get("/plans/", {"state": "ADOPTED"}))
    assert dag.get("/plans/", {"state": "x"}).status_code == 422


def test_a_lesson_has_no_list_of_other_people_s_lessons_to_move_to(school: School) -> None:
    """A one-on-one moves to a free time; only a group meeting is exchanged for another."""
    other = make_meeting(school.consultation, school.ilse, NOW + timedelta(days=9))
    make_booking(other, school.marlo)
    noor = as_user(school.noor.user)
    response = noor.get(f"/my-lessons/{school.booking.pk}/change/")
    assert response.status_code == 302
    assert response["Location"] == f"/my-lessons/{school.booking.pk}/move/"


def _ask(school: School) -> None:
    MoveRequest.objects.create(
        booking=school.booking,
        asked_by=school.noor.user,
        starts_at=NOW + timedelta(days=9),
        sequence=0,
        asked_at=NOW,
    )


def _propose(school: School, student: object) -> None:
    ProposedTimes.objects.create(
        student=student,
        offering=school.consultation,
        instructor=school.ilse,
        made_by=school.ilse.user,
        made_at=NOW,
        answer_by=NOW + timedelta(hours=28),
    )
