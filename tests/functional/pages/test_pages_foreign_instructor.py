"""The pages of notes, tried by an instructor who has nothing to do with the student, and by an
author who comes too late.
"""

from datetime import timedelta

import pytest

from bookings.domain.vocabulary import Ended, Standing
from bookings.models import Assessment
from bookings.pages.urls import urlpatterns
from tests.cast import NOW, make_assessment, make_booking, make_meeting, taught
from tests.functional.pages.school import School, as_user, text_of

NOBODY = 987_654
NOTE_PAGES = [str(route.pattern) for route in urlpatterns if "note_id" in str(route.pattern)]


def test_the_walk_finds_the_pages_of_a_note() -> None:
    """Reading and writing are among them, and whatever page of a note comes after them."""
    assert {"assessments/<int:note_id>/", "assessments/<int:note_id>/write/"} <= set(NOTE_PAGES)


@pytest.mark.parametrize("pattern", NOTE_PAGES)
@pytest.mark.parametrize("state", ["draft", "released"])
def test_a_note_of_others_looks_like_none(school: School, pattern: str, state: str) -> None:
    """Read or written to, a foreign note's page is the one of a note that does not exist (OWASP API
    Security 2023, API1).
    """
    note = make_assessment(
        school.noor, school.ilse, state=state, released_at=NOW if state == "released" else None
    )
    wren = as_user(school.wren.user)
    for ask in (wren.get, wren.post):
        real, made_up = (
            ask("/" + pattern.replace("<int:note_id>", str(pk))) for pk in (note.pk, NOBODY)
        )
        assert real.status_code == made_up.status_code
        assert real.status_code in (404, 405)
        assert real.content == made_up.content


def test_an_author_who_comes_too_late_finds_no_form(school: School) -> None:
    """Two weeks after the last meeting the note is read and neither changed nor followed."""
    noor, wren = school.marlo, school.wren
    note = make_assessment(noor, wren, state="released", released_at=NOW)
    shown = as_user(wren.user).get(f"/assessments/{note.pk}/")
    assert shown.status_code == 200
    assert "new version" not in text_of(shown)
    assert as_user(wren.user).get(f"/assessments/{note.pk}/write/").status_code == 404
    taught(wren, noor, school.consultation)
    assert "new version" in text_of(as_user(wren.user).get(f"/assessments/{note.pk}/"))
    assert as_user(wren.user).get(f"/assessments/{note.pk}/write/").status_code == 200


def test_a_cancelled_lesson_opens_no_note(school: School) -> None:
    """The brief of a lesson that did not take place offers no assessment, and its form is not
    there.
    """
    meeting = make_meeting(school.consultation, school.wren, NOW + timedelta(days=3))
    ended = {
        "standing": Standing.ENDED,
        "ended_at": NOW,
        "ended_why": Ended.CANCELLED_IN_TIME,
    }
    booking = make_booking(meeting, school.marlo, **ended)
    wren = as_user(school.wren.user)
    assert "Write an assessment" not in text_of(wren.get(f"/brief/{booking.pk}/"))
    for ask in (wren.get, wren.post):
        assert ask(f"/brief/{booking.pk}/assessment/").status_code == 404
    assert not Assessment.objects.exists()
