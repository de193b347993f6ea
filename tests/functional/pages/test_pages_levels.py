"""The question after a release at another level, on the page of the assessment."""

from bookings.domain.vocabulary import NoteState
from bookings.models import Assessment
from tests.cast import NOW, make_assessment, taught
from tests.functional.pages.school import School, as_user, text_of

ASKS = "Change the student’s record?"


def released(school: School, level: int) -> Assessment:
    taught(school.ilse, school.noor, school.consultation)
    return make_assessment(
        school.noor, school.ilse, level=level, state=NoteState.RELEASED, released_at=NOW
    )


def test_the_instructor_is_asked_and_answers_with_one_button(school: School) -> None:
    """The page says both levels; pressing moves the record and the question is gone."""
    note = released(school, 5)
    ilse, address = as_user(school.ilse.user), f"/assessments/{note.pk}/"
    page = text_of(ilse.get(address))
    assert ASKS in page
    assert "level 4, unit 2" in page
    assert "level 5, unit 2" in page
    answer = ilse.post(f"{address}adopt-level/", {"level": "4", "unit": "2"}, follow=True)
    assert "The record now says level 5, unit 2." in text_of(answer)
    assert ASKS not in text_of(answer)
    school.noor.refresh_from_db()
    assert (school.noor.level, school.noor.unit) == (5, 2)


def test_nobody_else_is_asked(school: School) -> None:
    """Not the student, and not the author of a note that a newer one has followed."""
    note = released(school, 5)
    assert ASKS not in text_of(as_user(school.noor.user).get(f"/assessments/{note.pk}/"))
    make_assessment(school.noor, school.ilse, state=NoteState.RELEASED, released_at=NOW)
    assert ASKS not in text_of(as_user(school.ilse.user).get(f"/assessments/{note.pk}/"))


def test_a_record_that_has_moved_meanwhile_is_shown_anew(school: School) -> None:
    """The form bears what the page showed; another record is not overwritten unseen."""
    note = released(school, 5)
    school.noor.level = 6
    school.noor.save()
    address = f"/assessments/{note.pk}/adopt-level/"
    answer = as_user(school.ilse.user).post(address, {"level": "4", "unit": "2"})
    assert answer.status_code == 412
    school.noor.refresh_from_db()
    assert school.noor.level == 6
