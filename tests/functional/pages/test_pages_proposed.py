"""The pages of proposed times, of declining, and of an instructor who books for a student."""

import re
from datetime import date, timedelta

import pytest

from bookings.domain.vocabulary import OwedCause
from bookings.models import Booking, MoveRequest, OutboxMessage, OwedLesson, ProposedTimes
from tests.cast import NOW, at
from tests.functional.pages.school import School, as_user, text_of
from tests.school.proposals import proposed_time, standings

MONDAY = at("2027-03-08T16:00Z")


def test_an_instructor_ticks_times_and_the_family_takes_one(school: School) -> None:
    """The whole way by forms: three times ticked, one email with a link, one taken."""
    ilse, noor = as_user(school.ilse.user), as_user(school.noor.user)
    address = f"/students/{school.noor.pk}/propose/?since=2027-03-08"
    offered = re.findall(r'name="start" value="([^"]+)"', ilse.get(address).content.decode())
    assert "2027-03-08T16:00:00Z" in offered
    done = ilse.post(address, {"start": offered[0:5:2]}, follow=True)
    assert "Take them back" in text_of(done)
    proposal = ProposedTimes.objects.get()
    email = OutboxMessage.objects.get(recipient=school.noor.user)
    page = f"/proposed-times/{proposal.pk}/"
    assert page in email.body
    assert page in noor.get("/my-lessons/").content.decode()
    shown = noor.get(page)
    assert text_of(shown).count("Take this time") == 3
    form = re.search(r'name="booking" value="(\d+)"', shown.content.decode())
    assert form is not None
    taken = noor.post(page, {"booking": form[1], "version": proposal.version}, follow=True)
    assert "The time is yours." in text_of(taken)
    assert Booking.objects.get(pk=form[1]).standing == "HELD"
    again = noor.post(page, {"booking": form[1]})
    assert (again.status_code, "have been answered" in text_of(again)) == (409, True)


def test_none_of_the_times_suits(school: School) -> None:
    """One button says so, and the page then says how it stands."""
    proposal = proposed_time(school.ilse, school.noor, school.consultation).proposed
    assert proposal is not None
    noor, page = as_user(school.noor.user), f"/proposed-times/{proposal.pk}/"
    assert noor.get(page).status_code == 200
    assert standings(proposal)[0][0] == "OFFERED"  # reading answers nothing
    noor.post(page, {})
    assert standings(proposal) == [("ENDED", "declined", "CANCELLED")]
    assert "None of these times suited." in text_of(noor.get(page))


def test_the_page_says_that_a_time_makes_up_what_is_owed(school: School) -> None:
    """The family reads it before it chooses."""
    time = proposed_time(school.ilse, school.noor, school.consultation)
    assert time.proposed is not None
    noor, page = as_user(school.noor.user), f"/proposed-times/{time.proposed.pk}/"
    assert "makes it up" not in text_of(noor.get(page))
    OwedLesson.objects.create(
        booking=school.booking,
        student=school.noor,
        offering=school.consultation,
        minutes=school.consultation.minutes,
        cause=OwedCause.CALLED_OFF,
        use_by=date(2027, 5, 1),
        owed_at=NOW,
    )
    assert (
        "The school owes you a lesson of this kind, to use by 1 May 2027. "
        "The time you choose makes it up." in text_of(noor.get(page))
    )


def test_a_request_to_move_is_answered_with_other_times(school: School) -> None:
    """A typed time is read on the instructor's clock."""
    ask = MoveRequest.objects.create(
        booking=school.booking,
        asked_by=school.noor.user,
        starts_at=school.booking.starts_at + timedelta(hours=1),
        asked_at=NOW,
    )
    ilse = as_user(school.ilse.user)
    assert f"/move-requests/{ask.pk}/propose/" in ilse.get("/move-requests/").content.decode()
    sent = {"on": "2027-03-08", "at": "16:00"}
    done = ilse.post(f"/move-requests/{ask.pk}/propose/", sent, follow=True)
    assert "which Noor Ashgrove asks to move" in text_of(done)
    ask.refresh_from_db()
    assert (ask.state, ask.proposal.times.get().starts_at) == ("proposed", MONDAY)


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        ({}, 422),
        ({"on": "2027-03-08"}, 422),
        ({"on": "2027-03-10", "at": "03:00"}, 409),
        ({"start": ["2027-03-08T16:00:00Z", "2027-03-08T16:00:00Z"]}, 422),
        ({"start": "2027-02-08T16:00:00Z"}, 409),
    ],
)
def test_times_that_cannot_be_proposed_keep_the_form(school: School, sent, status) -> None:
    """A clear sentence, what was typed, and nothing written."""
    page = as_user(school.ilse.user).post(f"/students/{school.noor.pk}/propose/", sent)
    assert page.status_code == status
    assert 'role="alert"' in page.content.decode()
    assert not ProposedTimes.objects.exists()


def test_an_instructor_proposes_to_their_own_students_only(school: School) -> None:
    """Somebody else's student is not there; neither is another instructor's proposal."""
    assert as_user(school.wren.user).get(f"/students/{school.noor.pk}/propose/").status_code == 404
    assert as_user(school.ilse.user).get(f"/students/{school.marlo.pk}/propose/").status_code == 404
    school.marlo.regular_instructor = school.ilse
    school.marlo.save()
    assert as_user(school.ilse.user).get(f"/students/{school.marlo.pk}/propose/").status_code == 200


def test_a_lesson_is_declined_by_a_form(school: School) -> None:
    """Opening the link of the email changes nothing; the button ends the lesson."""
    Booking.objects.filter(pk=school.booking.pk).update(decline_by=NOW + timedelta(hours=2))
    noor, page = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/decline/"
    assert page in noor.get("/my-lessons/").content.decode()
    assert "free of charge until" in text_of(noor.get(page))
    assert Booking.objects.get(pk=school.booking.pk).standing == "HELD"
    assert "You will not be charged" in text_of(noor.post(page, follow=True))
    assert Booking.objects.get(pk=school.booking.pk).ended_why == "declined"
    assert "was declined" in text_of(noor.get(page))


def test_the_page_that_cancels_leads_to_declining_while_that_is_free(school: School) -> None:
    """Nobody pays for a substitute whom they may refuse."""
    noor, page = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/cancel/"
    leads = f'href="/my-lessons/{school.booking.pk}/decline/"'
    assert leads not in noor.get(page).content.decode()
    Booking.objects.filter(pk=school.booking.pk).update(decline_by=NOW + timedelta(hours=2))
    assert leads in noor.get(page).content.decode()


def test_after_a_day_the_link_says_that_it_is_too_late(school: School) -> None:
    """The old link refuses, and the lesson stays."""
    Booking.objects.filter(pk=school.booking.pk).update(decline_by=NOW)
    refused = as_user(school.noor.user).post(f"/my-lessons/{school.booking.pk}/decline/")
    assert refused.status_code == 409
    assert "can still cancel it" in text_of(refused)
    assert Booking.objects.get(pk=school.booking.pk).standing == "HELD"
