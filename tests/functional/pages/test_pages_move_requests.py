"""An instructor answers what a family's calendar asks to move."""

from datetime import timedelta

from bookings.models import Booking, MoveRequest, OutboxMessage
from tests.cast import NOW
from tests.functional.pages.school import School, as_user, text_of


def asked(school: School, starts_at) -> MoveRequest:
    return MoveRequest.objects.create(
        booking=school.booking, asked_by=school.noor.user, starts_at=starts_at, sequence=school.booking.meeting.sequence, asked_at=NOW
    )


def test_the_page_shows_both_times_and_moves_the_lesson(school: School) -> None:
    """She says yes: the lesson is at the time asked for, by the rules of any move, and the list is empty."""
    wanted = school.booking.starts_at + timedelta(hours=1)
    ask, ilse = asked(school, wanted), as_user(school.ilse.user)
    assert "Noor" in text_of(ilse.get("/move-requests/"))
    done = ilse.post(f"/move-requests/{ask.pk}/", {"say": "yes"}, follow=True)
    assert "Nobody asks to move." in text_of(done)
    assert Booking.objects.get(pk=school.booking.pk).starts_at == wanted


def test_no_leaves_the_lesson_and_tells_the_family(school: School) -> None:
    """She says no: nothing moves, one DECLINECOUNTER leaves, and a second answer is told that there was one."""
    ask, ilse = asked(school, school.booking.starts_at + timedelta(hours=1)), as_user(school.ilse.user)
    ilse.post(f"/move-requests/{ask.pk}/", {"say": "no"})
    assert Booking.objects.get(pk=school.booking.pk).starts_at == school.booking.starts_at
    assert OutboxMessage.objects.get(method="DECLINECOUNTER").recipient == school.noor.user
    again = ilse.post(f"/move-requests/{ask.pk}/", {"say": "no"})
    assert again.status_code == 409
    assert "answered already" in text_of(again)


def test_a_time_that_the_rules_refuse_stays_open(school: School) -> None:
    """A start outside teaching hours is refused with its sentence, and the request waits for another answer."""
    ask, ilse = asked(school, school.booking.starts_at + timedelta(hours=12)), as_user(school.ilse.user)
    answer = ilse.post(f"/move-requests/{ask.pk}/", {"say": "yes"})
    assert answer.status_code in {409, 422}
    assert MoveRequest.objects.get(pk=ask.pk).state == "open"
