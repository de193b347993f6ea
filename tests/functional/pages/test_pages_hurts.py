"""What hurts, on the pages: the family writes it, the meeting's instructor reads it."""

import pytest

from bookings.models import Booking, Intake
from tests.cast import NOW, at, make_booking, make_meeting, make_offering
from tests.functional.pages.every_page import pages_of
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.one_database

HURTS = "canary-77b2 the left wrist"


def says(booking: Booking) -> Intake:
    intake = Intake(booking=booking, written_at=NOW)
    intake.hurts = HURTS
    intake.save()
    return intake


def test_canary_of_what_hurts_on_every_page(school: School) -> None:
    """On the brief of its meeting and on the family's own form, and nowhere else."""
    says(school.booking)
    seen = set()
    for who, client, address in pages_of(school):
        if HURTS in text_of(client.get(address)):
            seen.add((who, address))
    booking = school.booking.pk
    assert seen == {
        ("instructor", f"/brief/{booking}/"),
        ("student", f"/my-lessons/{booking}/intake/"),
    }


def test_today_and_the_printed_day_say_that_something_hurts_and_not_what(school: School) -> None:
    """The brief's own page says it, with the caution."""
    says(school.booking)
    ilse = as_user(school.ilse.user)
    assert "Says that something hurts." in text_of(ilse.get("/today/?on=2027-03-12"))
    paper = text_of(ilse.get("/today/briefs/?on=2027-03-12"))
    assert "It is not printed" in paper
    brief = text_of(ilse.get(f"/brief/{school.booking.pk}/"))
    assert HURTS in brief
    for page in (paper, brief):
        assert "Stop if it hurts: pain is a reason to rest" in page


def test_the_family_writes_it_and_an_admin_s_change_leaves_it(school: School) -> None:
    """An admin's form does not ask for it, and what they post under its name is not read."""
    address = f"/my-lessons/{school.booking.pk}/intake/"
    noor, dag = as_user(school.noor.user), as_user(school.dag)
    assert noor.post(address, {"hurts": HURTS, "practised_minutes": "210"}).status_code == 302
    form = text_of(dag.get(address))
    assert "Does anything hurt?" not in form
    assert HURTS not in form
    assert dag.post(address, {"hurts": "", "pieces": "Study 4"}).status_code == 302
    intake = Intake.objects.get()
    assert (intake.hurts, intake.pieces) == (HURTS, "Study 4")
    assert noor.post(address, {"pieces": "Study 4"}).status_code == 302
    assert Intake.objects.get().hurts == ""


def test_two_tabs_do_not_overwrite_what_hurts(school: School) -> None:
    """The second tab is shown what the first has saved, beside what it sent."""
    address, noor = f"/my-lessons/{school.booking.pk}/intake/", as_user(school.noor.user)
    version = school.booking.version
    noor.post(address, {"hurts": HURTS, "version": version})
    second = noor.post(address, {"hurts": "Nothing", "version": version})
    assert second.status_code == 409
    page = text_of(second)
    assert HURTS in page
    assert "Nothing" in page
    assert Intake.objects.get().hurts == HURTS


def test_it_is_asked_when_a_lesson_is_booked(school: School) -> None:
    """A guardian's booking keeps it; an admin's form for the family does not ask."""
    asked = {
        "offering": school.consultation.pk,
        "instructor": school.ilse.pk,
        "starts_at": "2027-03-15T16:00:00Z",
        "student": school.marlo.pk,
    }
    marlo = as_user(school.marlo.user)
    assert "Does anything hurt?" in text_of(marlo.get("/times/book/", asked))
    assert "Does anything hurt?" not in text_of(as_user(school.dag).get("/times/book/", asked))
    assert marlo.post("/times/book/", {**asked, "hurts": HURTS}).status_code == 302
    assert Intake.objects.get().hurts == HURTS


@pytest.mark.parametrize("kind", ["masterclass", "group-meeting"])
def test_a_place_in_a_group_brings_pieces_and_no_questions(school: School, kind: str) -> None:
    """A player's form asks for pieces and recordings; a listener is not asked on My lessons."""
    offering = make_offering("Studio class", kind, 60)
    meeting = make_meeting(
        offering, school.ilse, at("2027-03-14T16:00Z"), places=2, listener_places=2
    )
    place = make_booking(meeting, school.noor)
    address, noor = f"/my-lessons/{place.pk}/intake/", as_user(school.noor.user)
    form = text_of(noor.get(address))
    assert "Pieces and drills in hand" in form
    assert "question" not in form
    assert address in text_of(noor.get("/my-lessons/"))
    assert noor.post(address, {"pieces": "Study 4", "recordings": "One"}).status_code == 302
    assert "Study 4" in text_of(as_user(school.ilse.user).get(f"/brief/{place.pk}/"))
    place.place_kind = "listener"
    place.save()
    assert address not in text_of(noor.get("/my-lessons/"))
