"""Back, a second tab, and what is over: pages that meet a booking that stands or has ended."""

import re
from datetime import timedelta

import pytest

from bookings.domain.vocabulary import Standing
from bookings.models import Booking, Intake, WaitingPlace
from tests.cast import NOW, at, make_booking, make_student
from tests.functional.pages.booking import ask_to_book
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of

START = "2027-03-15T16:00:00Z"
LIVE_FORMS = ("cancel", "intake", "change", "answer")


def version_on(page: str) -> str:
    return re.search(r'name="version" value="(\d+)"', page)[1]  # type: ignore[index]


def test_going_back_after_booking_says_that_it_is_booked(school: School) -> None:
    """With a link to the lesson, and no form that would be refused."""
    noor, asked = as_user(school.noor.user), ask_to_book(school, START)
    noor.post("/times/book/", asked)
    page = text_of(noor.get("/times/book/", asked))
    assert "You have booked this" in page
    assert 'href="/my-lessons/' in page
    assert "not free any more" not in page
    assert "<textarea" not in page


def test_a_second_tab_s_question_is_kept(school: School) -> None:
    """Booked in one tab, sent again in another with other words: both are shown."""
    noor, asked = as_user(school.noor.user), ask_to_book(school, START)
    noor.post("/times/book/", {**asked, "question_1": "Why does the fourth finger fold?"})
    second = noor.post("/times/book/", {**asked, "question_1": "How loud may it be?"})
    page = text_of(second)
    booking = Booking.objects.get(starts_at=at(START))
    assert second.status_code == 409
    assert "Why does the fourth finger fold?" in page
    assert 'value="How loud may it be?"' in page
    assert booking.intake.questions == ["Why does the fourth finger fold?"]
    kept = {"question_1": "How loud may it be?", "version": version_on(page)}
    assert noor.post(f"/my-lessons/{booking.pk}/intake/", kept).status_code == 302
    assert Intake.objects.get(booking=booking).questions == ["How loud may it be?"]


def test_two_tabs_of_the_questions_do_not_overwrite_each_other(school: School) -> None:
    """The second save shows both texts; saving once more is knowing, and is taken."""
    noor, address = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/intake/"
    first, second = (version_on(text_of(noor.get(address))) for _ in range(2))
    assert noor.post(address, {"question_1": "First", "version": first}).status_code == 302
    late = noor.post(address, {"question_1": "Second", "version": second})
    page = text_of(late)
    assert late.status_code == 409
    assert "<dd>First</dd>" in page
    assert 'value="Second"' in page
    assert Intake.objects.get(booking=school.booking).questions == ["First"]
    again = {"question_1": "Second", "version": version_on(page)}
    assert noor.post(address, again).status_code == 302
    assert Intake.objects.get(booking=school.booking).questions == ["Second"]


@pytest.mark.parametrize("hours", [0.1, 48], ids=["begun", "over"])
def test_what_has_begun_is_told_in_words(school: School, hands: Hands, hours: float) -> None:
    """No page of a lesson that has begun or is over shows a form that could only be refused."""
    place = make_booking(school.circle, make_student("Ada Fenn"))
    ada = place.student.user
    for user, booking in ((school.noor.user, school.booking), (ada, place)):
        hands.at = booking.starts_at + timedelta(hours=hours)
        for page in LIVE_FORMS:
            answer = as_user(user).get(f"/my-lessons/{booking.pk}/{page}/", follow=True)
            assert answer.status_code == 200
            assert "nothing can be changed any more" in text_of(answer), page
            assert "<form" not in text_of(answer).split("<main")[1], page


def test_what_was_cancelled_is_told_in_words(school: School) -> None:
    """Also as the answer to a form that was open meanwhile."""
    noor, one = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}"
    noor.post(f"{one}/cancel/")
    for page in LIVE_FORMS:
        answer = text_of(noor.get(f"{one}/{page}/", follow=True))
        assert "This has been cancelled." in answer, page
        assert "<form" not in answer.split("<main")[1], page
    for page in ("cancel", "intake"):
        late = noor.post(f"{one}/{page}/", {"question_1": "Late"})
        assert late.status_code == 409
        assert "<form" not in text_of(late).split("<main")[1], page


def test_an_offer_that_nobody_answered_shows_no_buttons(school: School, hands: Hands) -> None:
    """After its last instant the page says that it has ended."""
    waiting = WaitingPlace.objects.create(meeting=school.circle, student=school.noor, joined_at=NOW)
    offered = make_booking(
        school.circle,
        school.noor,
        standing=Standing.OFFERED,
        answer_by=NOW + timedelta(hours=20),
        waiting_place=waiting,
    )
    hands.at = NOW + timedelta(hours=21)
    page = text_of(as_user(school.noor.user).get(f"/my-lessons/{offered.pk}/answer/"))
    assert "This offer has ended." in page
    assert "<button" not in page.split("<main")[1]


def test_booking_inside_the_notice_says_what_cancelling_costs(school: School, hands: Hands) -> None:
    """Before the button, and without a deadline that lies in the past."""
    hands.at = at(START) - timedelta(hours=20)
    page = text_of(as_user(school.noor.user).get("/times/book/", ask_to_book(school, START)))
    assert "This lesson starts within 24 hours." in page
    assert "the late cancellation is charged: the lesson counts as given" in page
    assert page.index("within 24 hours") < page.index("<button")
    assert "You can cancel free of charge until" not in page
    hands.at = at(START) - timedelta(hours=30)
    page = text_of(as_user(school.noor.user).get("/times/book/", ask_to_book(school, START)))
    assert "You can cancel free of charge until" in page
