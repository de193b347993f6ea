"""The brief before a lesson and the assessment after it, on the pages."""

from bookings.models import Assessment, Intake
from tests.cast import NOW, make_assessment
from tests.functional.pages.school import School, as_user, text_of


def test_one_on_ones_of_others_are_not_there(school: School) -> None:
    """A stranger's lesson is 404; its own student is led to their lessons."""
    address = f"/meetings/{school.booking.meeting_id}/"
    assert as_user(school.marlo.user).get(address).status_code == 404
    assert as_user(school.noor.user).get(address).url == "/my-lessons/"


def test_the_brief_holds_questions_unit_and_the_latest_note(school: School) -> None:
    """Three ranked questions, two recordings, the current unit and the latest released note, on one
    page; the reading is kept.
    """
    note = make_assessment(
        school.noor,
        school.wren,
        state="released",
        released_at=NOW,
        obstacle="The wrist hurts after an hour.",
    )
    Intake.objects.create(
        booking=school.booking,
        questions=["Why does it fold?", "How fast?", "How soft?"],
        recordings=["https://r.example/1", "https://r.example/2"],
        written_at=NOW,
    )
    school.booking.assessment = note
    school.booking.save()
    page = text_of(as_user(school.ilse.user).get(f"/brief/{school.booking.pk}/"))
    assert page.index("Why does it fold?") < page.index("How fast?") < page.index("How soft?")
    for said in (
        "Level 4, unit 2",
        "https://r.example/1",
        "https://r.example/2",
        "Close each finger into the palm",
        "Stop if it hurts",
    ):
        assert said in page
    assert note.readings.get().relation == "instructor"


def test_a_brief_without_intake_says_not_received(school: School) -> None:
    """A missing intake blocks nothing."""
    assert "Not received" in text_of(as_user(school.ilse.user).get(f"/brief/{school.booking.pk}/"))


def test_nobody_else_reads_a_brief(school: School) -> None:
    """The student, another instructor and an admin get 404."""
    for user in (school.noor.user, school.wren.user, school.dag, school.hedda):
        assert as_user(user).get(f"/brief/{school.booking.pk}/").status_code == 404


def test_an_assessment_is_drafted_rewritten_and_released(school: School) -> None:
    """A draft is the author's; release needs a next step and a goal; a later change is a new
    version.
    """
    ilse = as_user(school.ilse.user)
    asked = {
        "level": 4,
        "unit": 3,
        "heard_on": "2027-02-26",
        "strengths": "A warm tone",
        "band_posture": "3",
        "form": "assessment",
        "private_remarks": "shy today",
    }
    response = ilse.post(f"/brief/{school.booking.pk}/assessment/", {**asked, "then": "keep"})
    note = Assessment.objects.get()
    assert response.url == f"/assessments/{note.pk}/write/"
    assert note.bands == {"posture": 3}
    ready = {
        **asked,
        "next_steps": "Close each finger",
        "goal": "The study in G",
        "then": "release",
    }
    asked_once_more = ilse.post(response.url, ready).url
    note.refresh_from_db()
    assert asked_once_more == f"/assessments/{note.pk}/release/"
    read = {"read": note.written_at.isoformat()}
    assert ilse.post(asked_once_more, read).url == f"/assessments/{note.pk}/"
    assert "A warm tone" in text_of(as_user(school.noor.user).get(f"/assessments/{note.pk}/"))
    later = {**ready, "goal": "The study in D", "then": "keep"}
    assert ilse.post(response.url, later).status_code == 302
    assert list(Assessment.objects.order_by("version").values_list("version", "state")) == [
        (1, "released"),
        (2, "draft"),
    ]
    assert as_user(school.wren.user).get(response.url).status_code == 404
