"""An assessment on its way to the student: kept by default, read once more, then released."""

import re
from datetime import timedelta

import pytest

from bookings.models import Assessment
from tests.cast import NOW, make_assessment
from tests.functional.pages.school import School, as_user, text_of

TEXT = {
    "level": 4,
    "unit": 3,
    "heard_on": "2027-02-26",
    "strengths": "A warm tone",
    "form": "assessment",
    "next_steps": "Close each finger",
    "goal": "The study in G",
    "private_remarks": "shy today",
}


def read_on(page: str) -> dict[str, str]:
    return {"read": re.search(r'name="read" value="([^"]+)"', page)[1]}  # type: ignore[index]


def test_enter_in_a_field_keeps_a_draft(school: School) -> None:
    """The first submit button of the form, which Enter presses, is the draft's; a form without one
    keeps a draft too.
    """
    ilse, address = as_user(school.ilse.user), f"/brief/{school.booking.pk}/assessment/"
    form = text_of(ilse.get(address)).split('class="sheet"')[1]
    buttons = re.findall(r'name="then" value="(\w+)"', form)
    assert (buttons[0], buttons[-1]) == ("keep", "release")
    ilse.post(address, TEXT)
    assert Assessment.objects.get().state == "draft"


def test_releasing_asks_once_more_with_the_text_shown(school: School) -> None:
    """What the student will read stands on a page of its own; only its button releases."""
    ilse = as_user(school.ilse.user)
    asked = ilse.post(f"/brief/{school.booking.pk}/assessment/", {**TEXT, "then": "release"})
    note = Assessment.objects.get()
    assert (note.state, asked.url) == ("draft", f"/assessments/{note.pk}/release/")
    page = text_of(ilse.get(asked.url))
    assert "Close each finger" in page
    assert "shy today" not in page
    done = ilse.post(asked.url, read_on(page))
    assert done.url == f"/assessments/{note.pk}/"
    assert "Released. The family gets an email" in text_of(ilse.get(done.url))
    note.refresh_from_db()
    assert note.state == "released"


def test_what_was_not_read_is_not_released(school: School) -> None:
    """A draft that was changed in another tab is shown again first; without a reading nothing
    leaves.
    """
    note, ilse = make_assessment(school.noor, school.ilse), as_user(school.ilse.user)
    address = f"/assessments/{note.pk}/release/"
    read = read_on(text_of(ilse.get(address)))
    Assessment.objects.update(goal="Another goal", written_at=NOW + timedelta(minutes=1))
    for sent in (read, {}):
        late = ilse.post(address, sent)
        assert late.status_code == 412
        assert "Another goal" in text_of(late)
    note.refresh_from_db()
    assert note.state == "draft"


def test_a_draft_without_a_goal_says_what_is_missing(school: School) -> None:
    """It is kept, and its page names the fields instead of offering the button."""
    ilse = as_user(school.ilse.user)
    sent = {**TEXT, "goal": "", "then": "release"}
    asked = ilse.post(f"/brief/{school.booking.pk}/assessment/", sent)
    page = text_of(ilse.get(asked.url))
    assert "Still missing: a goal." in page
    assert "<button" not in page.split("<main")[1]
    note = Assessment.objects.get()
    assert ilse.post(asked.url, {"read": note.written_at.isoformat()}).status_code == 409


@pytest.mark.parametrize("address", ["/brief/{booking}/assessment/", "/assessments/{note}/write/"])
def test_a_date_ahead_is_refused_with_a_sentence(school: School, address: str) -> None:
    """At its field, with everything that was written; today is taken, on the instructor's own
    clock.
    """
    note, ilse = make_assessment(school.noor, school.ilse), as_user(school.ilse.user)
    where = address.format(booking=school.booking.pk, note=note.pk)
    refused = ilse.post(where, {**TEXT, "heard_on": "2027-03-02"})
    assert refused.status_code == 422
    assert 'href="#id_heard_on"' in text_of(refused)
    assert "This date is in the future." in text_of(refused)
    assert "A warm tone" in text_of(refused)
    assert ilse.post(where, {**TEXT, "heard_on": "2027-03-01"}).status_code == 302


def test_the_form_before_a_lesson_begins_with_today(school: School) -> None:
    """An assessment written before the lesson does not begin with a date that is refused."""
    page = text_of(as_user(school.ilse.user).get(f"/brief/{school.booking.pk}/assessment/"))
    assert 'value="2027-03-01"' in page


def test_nobody_else_releases(school: School) -> None:
    """The student, another instructor and an admin find nothing at the address; a released one is
    only read.
    """
    note = make_assessment(school.noor, school.ilse)
    address = f"/assessments/{note.pk}/release/"
    for user in (school.noor.user, school.wren.user, school.dag):
        assert as_user(user).get(address).status_code == 404
        assert as_user(user).post(address).status_code == 404
    Assessment.objects.update(state="released", released_at=NOW)
    assert as_user(school.ilse.user).get(address).url == f"/assessments/{note.pk}/"
