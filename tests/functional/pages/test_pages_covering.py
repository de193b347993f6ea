"""Cover a day over HTTP: asked for, the substitute's own yes, adopted, refused by a family."""

from datetime import timedelta

import pytest
from django.urls import reverse

from bookings.domain.vocabulary import Kind
from bookings.models import Booking, CoverQuestion, Meeting, Plan
from bookings.pages.plan_ribbon import picture_of
from bookings.queries.planning.cover_shown import shown_cover
from tests import cast
from tests.cast import NOW
from tests.functional.pages.school import as_user, text_of
from tests.school.covering import DAY, CoveringSchool

pytestmark = pytest.mark.django_db


@pytest.fixture
def school(monkeypatch):
    """The clock stands at NOW."""
    monkeypatch.setattr("bookings.clock.now", lambda: NOW)
    return CoveringSchool()


def asked(school, **more):
    """The answer to the form for Ilse's Friday, changed by `more`."""
    sent = {"instructor": school.ilse.pk, "first_on": "2027-03-12", **more}
    return as_user(school.admin).post("/plans/cover/", sent)


def test_an_ill_day_from_the_form_to_a_family_that_refuses(school):
    """Source: TRADE.md 8 (21): Wren is proposed as substitute and each may refuse."""
    noor, posy = school.book(school.noor, 13), school.book(school.posy, 14)
    page = asked(school)
    plan = Plan.objects.get()
    assert page.url == f"/plans/{plan.pk}/"
    school.solve(plan)
    admin = as_user(school.admin)
    shown = text_of(admin.get(page.url))
    assert "2 of 2 lessons can be covered" in shown
    assert "Wren Halloway" in shown
    admin.post(f"{page.url}adopt/", {"version": plan.version})
    assert {meeting.instructor for meeting in Meeting.objects.all()} == {school.wren}
    assert "2 of 2 lessons were covered" in text_of(admin.get(page.url))
    family = as_user(school.noor.user)
    decline = reverse("decline", args=[noor.pk])
    assert "Friday 12 March, 08:00 (New York)" in text_of(family.get(decline))
    assert family.post(decline).status_code == 302
    assert Booking.objects.get(pk=noor.pk).ended_why == "declined"
    assert Booking.objects.get(pk=posy.pk).standing == "HELD"


def test_a_substitute_answers_on_a_page_of_their_own(school):
    """Asked by the admin, answered by Wren, and adopted after that."""
    school.book(school.noor, 11)
    path = asked(school).url
    plan = school.solve(Plan.objects.get())
    admin, wren = as_user(school.admin), as_user(school.wren.user)
    assert "Only with Wren Halloway’s own yes: it is outside their hours." in text_of(
        admin.get(path)
    )
    admin.post(f"{path}ask/", {"version": plan.version})
    assert "They have been asked." in text_of(admin.get(path))
    assert "Noor Ashgrove" in text_of(wren.get("/cover/"))
    question = CoverQuestion.objects.get()
    assert wren.post(f"/cover/{question.pk}/").status_code == 422
    assert wren.post(f"/cover/{question.pk}/", {"say": "yes"}).status_code == 302
    assert "You are not asked for any lesson." in text_of(wren.get("/cover/"))
    school.solve(plan)
    assert "Wren Halloway has said yes." in text_of(admin.get(path))


def test_an_admin_cannot_answer_for_the_substitute(school):
    """The page is not there for them."""
    school.book(school.noor, 11)
    path = asked(school).url
    plan = school.solve(Plan.objects.get())
    admin = as_user(school.admin)
    admin.post(f"{path}ask/", {"version": plan.version})
    question = CoverQuestion.objects.get()
    assert admin.post(f"/cover/{question.pk}/", {"say": "yes"}).status_code == 404
    question.refresh_from_db()
    assert question.says_yes is None


def test_a_stretch_of_hours_is_on_the_clock_of_the_instructor(school):
    """13:30 to 15:00 in Dublin, which is on UTC in winter."""
    for student, hours in ((school.noor, 13), (school.posy, 14)):
        school.book(student, hours)
    asked(school, from_at="13:30", to_at="15:00")
    inputs = Plan.objects.get().asked
    assert (inputs["starts_at"], inputs["ends_at"]) == (
        "2027-03-12T13:30:00+00:00",
        "2027-03-12T15:00:00+00:00",
    )


def test_a_day_without_lessons_is_told_on_the_form(school):
    """No plan is made."""
    page = asked(school)
    assert page.status_code == 422
    assert "Ilse Quarrow has no lesson ahead in these hours." in text_of(page)


def test_a_group_meeting_in_the_hours_is_named_and_left(school):
    """A plan covers one-on-ones only."""
    school.book(school.noor, 13)
    circle = cast.make_offering("Harp circle", Kind.GROUP_MEETING, 50)
    starts_at = cast.at("2027-03-12T17:00Z")
    cast.make_meeting(circle, school.ilse, starts_at, title="Airs by ear", places=3)
    path = asked(school).url
    school.solve(Plan.objects.get())
    assert "Airs by ear" in text_of(as_user(school.admin).get(path))


def test_each_day_of_a_cover_has_a_ribbon_with_the_hour_of_the_substitute(school):
    """A stem is tall where the hour is easy on the substitute's clock: Wren teaches Noor's lesson
    at 08:00 in New York, which costs 1, and Posy's at 09:00, which costs nothing. A lesson that
    nobody can take has a stub without a head, and one that waits for a yes has no head either.
    """
    hours = ((school.noor, 13), (school.posy, 14), (school.kit, 36), (school.noor, 37))
    for student, after in hours:
        school.book(student, after)
    cast.make_meeting(school.offering, school.wren, DAY + timedelta(hours=36))
    found = shown_cover(school.solved(ends_at=DAY + timedelta(days=2)))
    friday, saturday = picture_of(found)
    assert [str(day.on) for day in (friday, saturday)] == ["2027-03-12", "2027-03-13"]
    assert [(stem.y, stem.is_best) for stem in friday.ribbon.stems] == [(11, True), (8, True)]
    assert [(stem.y, stem.is_best) for stem in saturday.ribbon.stems] == [
        (52, False),
        (11, False),
    ]
    assert friday.other_zone == "America/New_York"
