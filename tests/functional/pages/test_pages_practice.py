"""The practice plan on the pages: what to do today, one tap an item, and the brief's picture."""

from datetime import timedelta
from typing import Any

import pytest

from accounts.models import Student
from bookings.models import Assessment, PracticeTick
from tests.cast import NOW, make_assessment
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of

PLAN = [
    {"what": "An old air", "minutes": 5, "is_review": True},
    {"what": "Scales in thirds", "minutes": 10, "is_review": False},
    {"what": "The study in G", "minutes": 20, "is_review": False},
]


def released(school: School, student: Student, **says: Any) -> Assessment:
    return make_assessment(
        student,
        school.ilse,
        **{"state": "released", "released_at": NOW, "practice": PLAN, **says},
    )


@pytest.fixture
def plan(school: School) -> Assessment:
    return released(
        school,
        school.noor,
        released_at=NOW - timedelta(days=1),
        next_steps=["Close each finger.", "Breathe before the jump."],
        goal="The study in G at 72",
        goal_on=NOW.date() + timedelta(days=42),
    )


def test_a_newer_note_without_a_plan_has_the_next_step(school: School, plan: Assessment) -> None:
    """The older plan is still practised, but its next steps no longer count."""
    newer = released(school, school.noor, practice=[], next_steps=["Fourth finger first."])
    page = as_user(school.noor.user).get("/practice/")
    said = text_of(page)
    assert "Scales in thirds" in said
    assert "Close each finger." not in said
    assert "The next step is in <a href" in said and f"/assessments/{newer.pk}/" in said
    assert not newer.readings.exists()  # only who opens it has read it

    Assessment.objects.filter(pk=newer.pk).update(next_steps=[])
    assert "Close each finger." in text_of(as_user(school.noor.user).get("/practice/"))


def test_next_steps_without_any_plan_are_led_to(school: School) -> None:
    """The page has no plan to show, and says where the next step is."""
    newer = released(school, school.noor, practice=[], next_steps=["Fourth finger first."])
    said = text_of(as_user(school.noor.user).get("/practice/"))
    assert "There is no practice plan yet." in said
    assert f"/assessments/{newer.pk}/" in said


def sent(plan: Assessment, **act: str) -> dict[str, Any]:
    return {"student": plan.student_id, "note": plan.pk, **act}


def test_the_plan_of_today_is_in_the_order_of_a_day(school: School, plan: Assessment) -> None:
    """Next steps and the goal with its date on top, older pieces last, a rest where 25 minutes
    would be passed, and the minutes of the day.
    """
    page = text_of(as_user(school.noor.user).get("/practice/"))
    said = [
        "35 minutes a day",
        "Close each finger.<br>Breathe before the jump.",
        "The goal, by 12 April 2027",
        "Today, Monday 1 March",
        "0 of 35 minutes",
        "Scales in thirds",
        "Rest 5 minutes.",
        "The study in G",
        "An old air",
        "Yesterday, Sunday 28 February",
        "Practised 0 of the last 14 days.",
    ]
    places = [page.index(words, page.index("<h1>")) for words in said[:5]]
    assert places == sorted(places)
    today = page[page.index("Today, Monday") :]
    places = [today.index(words) for words in said[5:]]
    assert places == sorted(places)


def test_one_tap_ticks_and_another_takes_it_back(school: School, plan: Assessment) -> None:
    """Without a script: a button an item and day, and the page comes back at that item."""
    client = as_user(school.noor.user)
    for act, told, count in (
        ("tick", "10 of 35 minutes", 1),
        ("untick", "0 of 35 minutes", 0),
    ):
        response = client.post("/practice/tick/", sent(plan, **{act: "2027-03-01.1"}))
        assert response.url == "/practice/#item-2027-03-01.1"
        page = text_of(client.get("/practice/"))
        assert told in page
        assert f"Practised {count} of the last 14 days." in page
    client.post("/practice/tick/", sent(plan, tick="2027-02-28.0"))
    assert "Sunday 28 February: 5 minutes" in text_of(client.get("/practice/"))


def test_no_day_before_the_plan_was_given_is_offered(school: School) -> None:
    """Released today in New York: yesterday is neither shown to be ticked nor taken."""
    given = released(school, school.noor)
    client = as_user(school.noor.user)
    page = text_of(client.get("/practice/"))
    assert "Today, Monday 1 March" in page
    assert "Yesterday" not in page
    response = client.post("/practice/tick/", sent(given, tick="2027-02-28.1"))
    assert response.status_code == 409
    assert "This plan was given on 1 March 2027." in text_of(response)
    assert not PracticeTick.objects.exists()


def test_a_plan_released_meanwhile_is_shown_with_the_reason(
    school: School, plan: Assessment
) -> None:
    """The tap is refused, nothing is ticked, and the new plan stands on the page."""
    released(school, school.noor, practice=[{"what": "Airs", "minutes": 9, "is_review": False}])
    response = as_user(school.noor.user).post("/practice/tick/", sent(plan, tick="2027-03-01.1"))
    page = text_of(response)
    assert response.status_code == 409
    assert "There is a newer practice plan. Open it and tick there." in page
    assert "Airs" in page
    assert not PracticeTick.objects.exists()


def test_a_page_left_open_for_days_is_refused(
    school: School, plan: Assessment, hands: Hands
) -> None:
    """Its today is older than yesterday by now."""
    hands.at = NOW + timedelta(days=2)
    response = as_user(school.noor.user).post("/practice/tick/", sent(plan, tick="2027-03-01.1"))
    assert response.status_code == 409
    assert "Only today and yesterday can be ticked." in text_of(response)


@pytest.mark.parametrize(
    "act", ["", "2027-03-01", "yesterday.1", "2027-03-01.x", "2027-03-01.-1", "x" * 10_000]
)
def test_a_tap_that_names_nothing_is_not_found(school: School, plan: Assessment, act: str) -> None:
    """Whatever somebody writes into the form's hidden fields."""
    response = as_user(school.noor.user).post("/practice/tick/", sent(plan, tick=act))
    assert response.status_code in {400, 404}


def test_a_guardian_ticks_for_each_child_on_the_child_s_clock(school: School) -> None:
    """One switcher for all children; in Sydney it is the evening of 1 March."""
    kit = Student.objects.create(
        own_name="Kit Lindqvist-Reed", level=1, adult_on=school.posy.adult_on,
        own_time_zone=school.posy.own_time_zone,
    )  # fmt: skip
    kit.guardianships.create(guardian=school.hedda)
    plan, hedda = released(school, school.posy), as_user(school.hedda)
    page = text_of(hedda.get(f"/practice/?student={school.posy.pk}"))
    assert "Posy’s practice plan" in page
    assert f'href="?student={kit.pk}"' in page
    assert hedda.post("/practice/tick/", sent(plan, tick="2027-03-01.0")).status_code == 302
    assert "There is no practice plan yet" in text_of(hedda.get(f"/practice/?student={kit.pk}"))


def test_a_grown_child_s_plan_is_closed_to_whoever_books(school: School) -> None:
    """Posy comes of age without an account: the guardian still books, and reads no plan."""
    plan = released(school, school.posy)
    school.posy.adult_on = NOW.date()
    school.posy.save()
    hedda = as_user(school.hedda)
    page = text_of(hedda.get("/practice/"))
    assert "the practice plan is for them alone" in page
    assert "Scales" not in page
    assert hedda.post("/practice/tick/", sent(plan, tick="2027-03-01.0")).status_code == 404


def test_instructors_and_admins_do_not_open_it(school: School, plan: Assessment) -> None:
    """An instructor reads the brief; an admin reads a note with a reason."""
    for user in (school.ilse.user, school.dag, school.marlo.user):
        address = f"/practice/?student={school.noor.pk}"
        assert as_user(user).get(address).status_code in (403, 404)


def test_the_brief_shows_the_days_as_a_picture(school: School, plan: Assessment) -> None:
    """In words, as bars with a title, and as a list; nothing where no note may be read."""
    plan.ticks.create(item=2, on=NOW.date() - timedelta(days=3), ticked_at=NOW)
    address = f"/brief/{school.booking.pk}/"
    page = text_of(as_user(school.ilse.user).get(address))
    assert "Practised 1 of the last 14 days." in page
    assert "<title>Minutes practised on each day, today last: 0, 0, 0," in page
    assert "Friday 26 February: 20 minutes" in page
    plan.delete()
    assert "of the last 14 days" not in text_of(as_user(school.ilse.user).get(address))


def test_advice_on_the_page_keeps_to_its_figures(school: School, plan: Assessment) -> None:
    """Sources: the World Health Organization on devices (80 dB, 75 for children, 40 hours a week);
    private teachers' pages on practice (5 minutes of rest after 25).
    """
    page = text_of(as_user(school.noor.user).get("/practice/"))
    assert "Rest 5 minutes after each 25 minutes of playing." in page
    assert "at most 80 decibels, and 75 for a child, for up to 40 hours a week" in page
    assert "This is teaching, not medical advice." in page


@pytest.mark.parametrize(
    ("says", "is_shown"),
    [
        ({}, False),
        ({"obstacle": "My teacher says it reaches a number of people."}, False),
        ({"practice": [{"what": "x", "minutes": 240, "is_review": False}]}, False),
        ({"obstacle": "The wrist hurts."}, True),
        ({"caution": "Rest often."}, True),
    ],
)
def test_the_caution_comes_from_a_field_or_from_whole_words(
    school: School, says: dict[str, Any], is_shown: bool
) -> None:
    """No number of minutes, no missing tick and no part of a word brings it."""
    released(school, school.noor, **says)
    page = text_of(as_user(school.noor.user).get("/practice/"))
    assert ("Stop if it hurts: pain is a reason to rest" in page) is is_shown
