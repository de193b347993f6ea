"""Hours that a plan of a group asks for: the form, the plan, and what a family reads."""

from datetime import timedelta

import pytest

from bookings.models import AskedHours, Plan
from tests.cast import NOW, at, user_of
from tests.functional.pages.school import School, as_user, text_of
from tests.school.plans import asking_plan

pytestmark = pytest.mark.sql

CLOSED = at("2027-03-02T18:01Z")


def asked(school: School, **typed: str) -> object:
    """The form of a plan for Noor, sent by an admin in Dublin."""
    form = {
        "offering": school.circle.offering.pk,
        "title": "Ornaments",
        "instructors": school.ilse.pk,
        "first_on": "2027-03-08",
        "last_on": "2027-03-12",
        "mode": "series",
        "meetings": 1,
        "days_apart": 7,
        "places": 4,
        "seconds": 10,
        "student": school.noor.pk,
        **typed,
    }
    return as_user(school.dag).post("/plans/group/", form)


def test_the_form_asks_families_until_a_time_on_the_admin_s_clock(school: School) -> None:
    """In March Dublin keeps the time of UTC."""
    response = asked(school, answer_on="2027-03-03", answer_at="18:00")
    plan = Plan.objects.get()
    assert response.url == f"/plans/{plan.pk}/"
    assert plan.answer_by == at("2027-03-03T18:00Z")
    assert AskedHours.objects.get().student == school.noor


def test_without_a_time_nobody_is_asked(school: School) -> None:
    """Both fields may stay empty."""
    asked(school)
    assert Plan.objects.get().answer_by is None
    assert not AskedHours.objects.exists()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"answer_on": "2027-03-03"}, "Give the day and the time together"),
        ({"answer_at": "18:00"}, "Give the day and the time together"),
        ({"answer_on": "2027-02-01", "answer_at": "18:00"}, "that lies ahead"),
        ({"answer_on": "2027-03-09", "answer_at": "18:00"}, "before the first day"),
        ({"answer_on": "2027-03-03", "answer_at": "noon"}, "is not a time"),
    ],
)
def test_a_time_that_cannot_be_kept_is_told_and_what_was_typed_stays(
    school: School, typed: dict[str, str], words: str
) -> None:
    """One half without the other, one that is over, one too late, and no time at all."""
    response = asked(school, **typed)
    assert response.status_code in (409, 422)
    assert words in text_of(response)
    page = response.content.decode()
    assert all(f'value="{value}"' in page for value in typed.values())
    assert not Plan.objects.exists()


def test_an_open_plan_shows_how_many_answered_and_cannot_be_adopted(school: School) -> None:
    """The link is not there, and the act is refused; once closed, it is there."""
    plan = asking_plan(school.circle.offering, school.ilse, school.noor, school.posy)
    AskedHours.objects.filter(student=school.noor).update(answered_at=NOW)
    page = as_user(school.dag).get(f"/plans/{plan.pk}/")
    assert "<b>1 of 2 members answered.</b>" in text_of(page)
    assert "until Tuesday 2 March, 18:00" in text_of(page)
    assert "Adopt this plan" not in text_of(page)
    refused = as_user(school.dag).post(f"/plans/{plan.pk}/adopt/", {"version": plan.version})
    assert (refused.status_code, Plan.objects.get().state) == (409, "READY")
    assert "Families can still answer." in text_of(refused)
    Plan.objects.update(closed_at=CLOSED)
    page = as_user(school.dag).get(f"/plans/{plan.pk}/")
    assert "Answers closed Tuesday 2 March, 18:00" in text_of(page)
    assert "Adopt this plan" in text_of(page)


def test_a_family_reads_until_when_to_answer_and_that_it_has(school: School) -> None:
    """Saving the page as it is counts as an answer; times are on the family's clock."""
    asking_plan(school.circle.offering, school.ilse, school.noor)
    noor = as_user(user_of(school.noor))
    until = "<strong>Tuesday 2 March, 13:00 (New York)</strong>"
    lessons = text_of(noor.get("/my-lessons/"))
    assert f"Please say by {until} which hours you can come." in lessons
    hours = text_of(noor.get("/hours-to-come/"))
    assert f"Save these hours by {until}, even if nothing has changed" in hours
    noor.post("/hours-to-come/", {"student": school.noor.pk, "version": ""})
    assert AskedHours.objects.get().answered_at is not None
    assert "You answered" in text_of(noor.get("/hours-to-come/"))
    assert "Asked for" not in text_of(noor.get("/my-lessons/"))


def test_a_late_family_is_told_that_it_is_late(school: School, monkeypatch) -> None:
    """Before it saves and after; My lessons asks no more."""
    asking_plan(school.circle.offering, school.ilse, school.noor)
    monkeypatch.setattr("bookings.clock.now", lambda: CLOSED + timedelta(minutes=5))
    noor = as_user(user_of(school.noor))
    assert "Asked for" not in text_of(noor.get("/my-lessons/"))
    told = "Answers for Ornaments closed Tuesday 2 March, 13:00 (New York)."
    page = text_of(noor.get("/hours-to-come/"))
    assert told in page
    assert "What you save now counts for the next plan." in page
    noor.post("/hours-to-come/", {"student": school.noor.pk, "version": ""})
    assert AskedHours.objects.get().answered_at is None
    assert told in text_of(noor.get("/hours-to-come/"))
