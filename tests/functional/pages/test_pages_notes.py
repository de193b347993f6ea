"""Notes on the pages: two windows, a colleague's note, a new level, history, techniques."""

import re
from datetime import timedelta
from typing import Any

from bookings.models import Assessment
from tests.cast import NOW, make_assessment
from tests.functional.pages.school import School, as_user, text_of


def hidden(page: str, name: str) -> list[str]:
    return re.findall(rf'type="hidden" name="{name}" value="([^"]*)"', page)


def typed(page: str, **says: Any) -> dict[str, Any]:
    """What a window sends that shows this page."""
    return {
        "form": "assessment",
        "level": 4,
        "unit": 2,
        "heard_on": "2027-02-26",
        "next_steps": "Close each finger",
        "goal": "The study in G",
        "read": hidden(page, "read"),
        **says,
    }


def released(school: School, author: Any, **says: Any) -> Assessment:
    return make_assessment(school.noor, author, **{"state": "released", "released_at": NOW, **says})


def test_a_second_window_keeps_what_was_typed_and_asks(school: School) -> None:
    """The draft saved meanwhile stays until the second press."""
    note, ilse = make_assessment(school.noor, school.ilse), as_user(school.ilse.user)
    address = f"/assessments/{note.pk}/write/"
    one, other = text_of(ilse.get(address)), text_of(ilse.get(address))
    assert ilse.post(address, typed(one, goal="First window")).status_code == 302
    Assessment.objects.update(written_at=NOW + timedelta(minutes=1))
    late = ilse.post(address, typed(other, goal="Second window"))
    assert late.status_code == 412
    assert "Second window" in text_of(late)
    assert "is not saved yet" in text_of(late)
    note.refresh_from_db()
    assert note.goal == "First window"
    assert ilse.post(address, typed(text_of(late), goal="Second window")).status_code == 302
    note.refresh_from_db()
    assert note.goal == "Second window"


def test_the_practice_plan_is_typed_in_rows(school: School) -> None:
    """Empty rows are left out; half a row is refused at the field that is missing."""
    ilse, address = as_user(school.ilse.user), f"/brief/{school.booking.pk}/assessment/"
    rows = {"what_0": "Scales", "minutes_0": "5", "what_2": "A song", "minutes_2": "8"}
    half = ilse.post(address, typed("", **rows, what_3="Chords"))
    assert (half.status_code, 'href="#id_minutes_3"' in text_of(half)) == (422, True)
    ilse.post(address, typed("", **rows, review_2="on"))
    assert Assessment.objects.get().practice == [
        {"what": "Scales", "minutes": 5, "is_review": False},
        {"what": "A song", "minutes": 8, "is_review": True},
    ]


def test_the_write_form_fills_in_the_usual_plan_and_warns_as_wrap_up_does(school: School) -> None:
    """The button saves nothing; a saved plan without an older piece is said to lack one."""
    ilse, address = as_user(school.ilse.user), f"/brief/{school.booking.pk}/assessment/"
    assert "Start from the usual plan for this level" in text_of(ilse.get(address))
    filled = text_of(ilse.post(address, typed("", level="", goal="Kept", then="usual")))
    assert 'value="Technique and drills"' in filled
    assert "Kept" in filled
    assert not Assessment.objects.exists()
    thin = {"what_0": "Scales", "minutes_0": "20"}
    saved = text_of(ilse.post(address, typed("", **thin), follow=True))
    assert "20 minutes a day in the saved draft." in saved
    assert "Plan 5 to 10 minutes for reviewing an older piece" in saved


def test_a_steep_rise_is_told_beside_a_plan_that_the_writer_may_read(school: School) -> None:
    """An hour more than the plan until now; a colleague's plan that they may not read is no sum."""
    ilse, address = as_user(school.ilse.user), f"/brief/{school.booking.pk}/assessment/"
    long = {"what_0": "Scales", "minutes_0": "80", "what_1": "An air", "minutes_1": "5"}
    sent = typed("", **long, review_1="on")
    released(school, school.wren, practice=[{"what": "x", "minutes": 20, "is_review": False}])
    assert "more than before" not in text_of(ilse.post(address, sent, follow=True))
    released(school, school.ilse, practice=[{"what": "x", "minutes": 25, "is_review": False}])
    said = "This is 60 minutes a day more than before. Raise it in steps."
    assert said in text_of(ilse.post(address, sent, follow=True))


def test_a_colleagues_note_is_shown_before_it_is_followed(school: School) -> None:
    """The page names author and date; without the tick nothing is released. A new level is offered
    in the same act.
    """
    theirs = released(school, school.wren)
    note, ilse = make_assessment(school.noor, school.ilse, level=5), as_user(school.ilse.user)
    address = f"/assessments/{note.pk}/release/"
    page = text_of(ilse.get(address))
    assert "The latest note is by Wren Halloway, heard on 1 March 2027." in page
    read = hidden(page, "read")
    assert ilse.post(address, {"read": read}).status_code == 409
    assert ilse.post(address, {"read": read, "over": theirs.pk, "adopt": "on"}).status_code == 302
    school.noor.refresh_from_db()
    assert school.noor.level == 5
    again = ilse.post(address, {"read": read, "over": theirs.pk})
    assert (again.status_code, "already been released" in text_of(again)) == (409, True)


def test_history_is_a_drawing_and_the_same_facts_in_a_table(school: School) -> None:
    """Level, bands, goals and what became of them; each note read is logged."""
    first = released(school, school.ilse, level=3, bands={"tone": 2}, goal="Study 3")
    released(school, school.ilse, bands={"tone": 4}, last_goal="met", form="lesson-note")
    noor = as_user(school.noor.user)
    page = text_of(noor.get(f"/students/{school.noor.pk}/notes/"))
    assert 'aria-label="Level 3 on 1 March 2027, level 4 on 1 March 2027"' in page
    assert 'aria-label="Tone: growing, then free"' in page
    for said in ("Level", "tone: growing", "tone: free", "Lesson note", "Study 3", "<b>Met.</b>"):
        assert said in page
    assert first.readings.get().relation == "family"


def test_the_brief_leads_to_all_notes_of_a_student_one_knows(school: School) -> None:
    """An instructor who has released none reads the lesson's note alone."""
    address = f"/brief/{school.booking.pk}/"
    link = f'href="/students/{school.noor.pk}/notes/"'
    released(school, school.wren)
    assert link not in text_of(as_user(school.ilse.user).get(address))
    released(school, school.ilse)
    assert link in text_of(as_user(school.ilse.user).get(address))


def test_an_admin_reads_history_with_a_reason(school: School) -> None:
    """Asked for on a page, sent in a form, kept, and shown to nobody in the family."""
    note, dag = released(school, school.ilse), as_user(school.dag)
    address = f"/students/{school.noor.pk}/notes/"
    assert "Say why you need to read them." in text_of(dag.get(address))
    assert dag.post(address, {"reason": " "}).status_code == 422
    assert not note.readings.exists()
    assert "Every note" in text_of(dag.post(address, {"reason": "canary-why"}))
    page = text_of(as_user(school.noor.user).get(f"/assessments/{note.pk}/"))
    assert "Dag Emberley, admin" in page
    assert "canary-why" not in page


def test_a_student_without_notes_reads_that_there_are_none(school: School) -> None:
    """An empty history says so in words."""
    page = text_of(as_user(school.hedda).get(f"/students/{school.posy.pk}/notes/"))
    assert "No note has been released yet." in page


def test_an_admin_starts_a_list_from_a_preset(school: School) -> None:
    """The preset fills the box and saves nothing; what is typed over another list waits for a
    second press.
    """
    dag, address = as_user(school.dag), f"/techniques/{school.consultation.pk}/"
    preset = text_of(dag.get(f"{address}?preset=winds"))
    assert "embouchure" in preset
    assert "The usual list" not in text_of(dag.get("/techniques/"))
    assert "the usual list: posture" in text_of(dag.get("/techniques/"))
    seen = hidden(text_of(dag.get(address)), "seen")
    sent = {"techniques": "tone\r\nrhythm\r\n", "seen": seen}
    assert dag.post(address, sent).status_code == 302
    late = dag.post(address, {"techniques": "memory", "seen": seen})
    assert (late.status_code, "The list is now: tone, rhythm." in text_of(late)) == (412, True)
    assert "memory" in text_of(late)
    note = text_of(as_user(school.ilse.user).get(f"/brief/{school.booking.pk}/assessment/"))
    assert re.findall(r'name="(band_\w+)"', note) == ["band_tone", "band_rhythm"]
