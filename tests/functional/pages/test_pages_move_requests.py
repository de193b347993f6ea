"""A family asks to move, by its calendar or by a page, and an instructor answers."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from bookings.models import Booking, MoveRequest, OutboxMessage
from tests.cast import NOW, at, make_booking, make_meeting
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of


def asked(school: School, starts_at) -> MoveRequest:
    return MoveRequest.objects.create(
        booking=school.booking,
        asked_by=school.noor.user,
        starts_at=starts_at,
        sequence=school.booking.meeting.sequence,
        asked_at=NOW,
    )


def say(client: Client, ask: MoveRequest, word: str, **how: Any) -> Any:
    """Her answer, by the form of the page as she has it open."""
    return client.post(
        f"/move-requests/{ask.pk}/", {"say": word, "read": ask.asked_at.isoformat()}, **how
    )


def test_the_page_shows_both_times_and_moves_the_lesson(school: School) -> None:
    """She says yes: the lesson is at the time asked for, by the rules of any move, and the list is empty."""
    wanted = school.booking.starts_at + timedelta(hours=1)
    ask, ilse = asked(school, wanted), as_user(school.ilse.user)
    page = ilse.get("/move-requests/")
    assert "Noor" in text_of(page)
    assert f'name="read" value="{ask.asked_at.isoformat()}"' in page.content.decode()
    done = say(ilse, ask, "yes", follow=True)
    assert "No requests." in text_of(done)
    assert Booking.objects.get(pk=school.booking.pk).starts_at == wanted


def test_no_leaves_the_lesson_and_tells_the_family(school: School) -> None:
    """She says no: nothing moves, one DECLINECOUNTER leaves, and a second answer is told that there was one."""
    ask, ilse = (
        asked(school, school.booking.starts_at + timedelta(hours=1)),
        as_user(school.ilse.user),
    )
    say(ilse, ask, "no")
    assert Booking.objects.get(pk=school.booking.pk).starts_at == school.booking.starts_at
    assert OutboxMessage.objects.get(method="DECLINECOUNTER").recipient == school.noor.user
    again = say(ilse, ask, "no")
    assert again.status_code == 409
    assert "answered already" in text_of(again)


def test_a_time_that_the_rules_refuse_stays_open(school: School) -> None:
    """A start outside teaching hours is refused with its sentence, and the request waits for another answer."""
    ask, ilse = (
        asked(school, school.booking.starts_at + timedelta(hours=12)),
        as_user(school.ilse.user),
    )
    answer = say(ilse, ask, "yes")
    assert answer.status_code in {409, 422}
    assert MoveRequest.objects.get(pk=ask.pk).state == "open"


def test_an_hour_that_nobody_teaches_is_refused_when_asked(school: School) -> None:
    """Ilse does not teach on Wednesdays: the page says so at once, nothing is asked, and what was typed stays."""
    noor, address = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/ask/"
    refused = noor.post(address, {"on": "2027-03-17", "at": "19:00"})
    assert refused.status_code == 409
    assert "The instructor does not teach for 25 minutes from then" in text_of(refused)
    assert 'value="19:00"' in text_of(refused)
    assert not MoveRequest.objects.exists()


def test_a_taken_hour_may_be_asked_for(school: School) -> None:
    """What the rules refuse for another reason than her hours is hers to allow."""
    make_booking(
        make_meeting(school.consultation, school.ilse, at("2027-03-16T16:00Z")), school.marlo
    )
    noor, address = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/ask/"
    assert noor.post(address, {"on": "2027-03-16", "at": "12:00"}).status_code == 302


def test_a_family_asks_by_a_page(school: School) -> None:
    """A wall time of her clock; My lessons says that it is asked, the instructor reads it, and a newer wish takes its place."""
    noor, address = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/ask/"
    assert address in text_of(noor.get(f"/my-lessons/{school.booking.pk}/move/"))
    told = text_of(noor.post(address, {"on": "2027-03-16", "at": "13:00"}, follow=True))
    assert "Request sent. The lesson is not moved until Ilse Quarrow agrees" in told
    assert "Tuesday 16 March, 13:00" in told
    assert MoveRequest.objects.get().starts_at == at("2027-03-16T17:00Z")
    assert "Tuesday 16 March" in text_of(as_user(school.ilse.user).get("/move-requests/"))
    assert "You have already asked for" in text_of(noor.get(address))
    noor.post(address, {"on": "2027-03-19", "at": "12:00"})
    assert MoveRequest.objects.get().starts_at == at("2027-03-19T16:00Z")


def test_a_wish_that_no_clock_shows_once_is_refused(school: School, hands: Hands) -> None:
    """New York skips 02:30 on 14 March 2027 and shows 01:30 twice on 7 November (tzdata); a wish without a time is no wish."""
    noor, address = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/ask/"
    for on, clock, status in (
        ("2027-03-14", "02:30", 422),
        ("2027-11-07", "01:30", 422),
        ("2027-03-17", "", 422),
        ("", "19:00", 422),
    ):
        assert noor.post(address, {"on": on, "at": clock}).status_code == status, on
    assert not MoveRequest.objects.exists()
    hands.at = school.booking.starts_at - timedelta(hours=1)
    page = text_of(noor.get("/my-lessons/"))
    assert "Ask to move" in page
    assert "only Ilse Quarrow can move it now" in text_of(noor.get(address))


@pytest.mark.parametrize("word", ["yes", "no"])
def test_her_answer_is_to_the_wish_that_the_page_showed(school: School, word: str) -> None:
    """The family asks for another start while her page is open: nothing is answered, nothing is sent, and she is shown the newer wish."""
    ask, ilse = (
        asked(school, school.booking.starts_at + timedelta(hours=1)),
        as_user(school.ilse.user),
    )
    MoveRequest.objects.update(
        starts_at=school.booking.starts_at + timedelta(hours=2), asked_at=NOW + timedelta(minutes=1)
    )
    answer = say(ilse, ask, word)
    assert answer.status_code == 412
    assert "has just asked again" in text_of(answer)
    assert Booking.objects.get(pk=school.booking.pk).starts_at == school.booking.starts_at
    assert (MoveRequest.objects.get().state, OutboxMessage.objects.count()) == ("open", 0)
    assert ilse.post(f"/move-requests/{ask.pk}/", {"say": word}).status_code == 412
