"""The pages by which an instructor books and moves lessons of students whom they teach."""

import html
import re
from datetime import timedelta

from bookings.models import Booking, MoveRequest, OutboxMessage
from tests.cast import NOW, at, make_booking, make_meeting
from tests.functional.pages.school import School, as_user, text_of

SHOWN = "/students/{}/propose/?since=2027-03-08"


def links(page: str, path: str) -> list[str]:
    """The addresses of the starts that a page leads to, each once."""
    found = re.findall(rf'href="({path}\?[^"]+start=[^"]+)"', page)
    return list(dict.fromkeys(html.unescape(address) for address in found))


def test_an_instructor_books_a_start_of_the_ribbon_for_their_student(school: School) -> None:
    """From My students to the lesson: on both clocks, and until when the family may decline."""
    ilse = as_user(school.ilse.user)
    students = text_of(ilse.get("/my-students/"))
    assert f"/students/{school.noor.pk}/propose/" in students
    page = text_of(ilse.get(SHOWN.format(school.noor.pk)))
    (address,) = (one for one in links(page, "/times/book/") if "2027-03-08T16:00:00Z" in one)
    shown = text_of(ilse.get(address))
    assert "Monday 8 March, <b>16:00</b>" in shown
    assert "Monday 8 March, <b>11:00</b>" in shown
    assert "can decline the lesson free of charge until" in shown
    assert 'name="obstacle"' not in shown  # the family writes what the student brings
    sent = {
        "student": school.noor.pk,
        "offering": school.consultation.pk,
        "start": f"{school.ilse.pk}@2027-03-08T16:00:00Z",
    }
    done = ilse.post("/times/book/", sent, follow=True)
    assert done.redirect_chain == [("/my-students/", 302)]
    lesson = Booking.objects.get(starts_at=at("2027-03-08T16:00Z"))
    assert (lesson.booked_by, lesson.decline_by) == (school.ilse.user, NOW + timedelta(days=1))
    assert OutboxMessage.objects.filter(recipient=school.noor.user).exists()
    again = ilse.post("/times/book/", sent, follow=True)
    assert again.redirect_chain == [("/my-students/", 302)]
    assert Booking.objects.filter(starts_at=lesson.starts_at).count() == 1
    assert "This lesson is booked" in text_of(ilse.get(address))


def test_the_lead_time_and_the_open_consultations_do_not_bind_the_instructor(
    school: School,
) -> None:
    """A lesson today beside two that are booked: shown, and not refused before it is sent."""
    second = make_meeting(school.consultation, school.ilse, at("2027-03-09T16:00Z"))
    make_booking(second, school.noor)
    school.ilse.extra_hours.create(on=NOW.date(), opens=900, closes=1080, time_zone="Europe/Dublin")
    ilse = as_user(school.ilse.user)
    soon = f"/students/{school.noor.pk}/propose/?since={NOW.date()}"
    address = links(text_of(ilse.get(soon)), "/times/book/")[0]
    shown = ilse.get(address)
    assert (shown.status_code, 'role="alert"' in text_of(shown)) == (200, False)


def test_an_instructor_books_for_their_own_hours_and_students_only(school: School) -> None:
    """Somebody else's hours are refused, and somebody else's student is not there."""
    ilse = as_user(school.ilse.user)
    asked = {"offering": school.consultation.pk, "starts_at": "2027-03-08T16:00:00Z"}
    own = {**asked, "student": school.noor.pk, "instructor": school.ilse.pk}
    assert ilse.get("/times/book/", own).status_code == 200
    assert ilse.post("/times/book/", {**own, "instructor": school.wren.pk}).status_code == 403
    assert ilse.post("/times/book/", {**own, "student": school.marlo.pk}).status_code == 404
    assert Booking.objects.count() == 1


def test_an_instructor_moves_a_lesson_on_their_own_clock(school: School) -> None:
    """The deadline of the family does not bind them; the family may decline the new time."""
    ilse, page = as_user(school.ilse.user), f"/my-lessons/{school.booking.pk}/move/"
    assert page in text_of(ilse.get("/my-students/"))
    assert page in text_of(ilse.get(f"/brief/{school.booking.pk}/"))
    times = text_of(ilse.get(page))
    assert "on the clock of" not in times
    assert "Now: Friday 12 March, 17:30, Dublin, with Noor Ashgrove." in times
    start = f"{school.ilse.pk}@2027-03-12T18:00:00Z"
    assert start in times
    shown = text_of(ilse.get(page, {"start": start}))
    assert "Friday 12 March, <b>18:00</b>" in shown
    assert "Friday 12 March, <b>13:00</b>" in shown
    assert "can decline the new time free of charge until" in shown
    sent = {"start": start, "version": school.booking.version}
    assert ilse.post(page, sent, follow=True).redirect_chain == [("/my-students/", 302)]
    moved = Booking.objects.get(pk=school.booking.pk)
    assert moved.starts_at == at("2027-03-12T18:00Z")
    assert moved.decline_by == NOW + timedelta(days=1)
    late = ilse.post(page, {**sent, "start": f"{school.ilse.pk}@2027-03-12T16:00:00Z"})
    assert (late.status_code, "changed" in text_of(late)) == (412, True)
    elsewhere = ilse.post(page, {"start": f"{school.wren.pk}@2027-03-12T18:00:00Z"})
    assert elsewhere.status_code == 403
    assert Booking.objects.get(pk=school.booking.pk).starts_at == moved.starts_at


def test_a_request_to_move_is_answered_by_moving_to_another_start(school: School) -> None:
    """The page that proposes other times leads to the move itself, which closes the request."""
    ask = MoveRequest.objects.create(
        booking=school.booking,
        asked_by=school.noor.user,
        starts_at=school.booking.starts_at + timedelta(hours=1),
        asked_at=NOW,
    )
    ilse, path = as_user(school.ilse.user), f"/my-lessons/{school.booking.pk}/move/"
    address = links(text_of(ilse.get(f"/move-requests/{ask.pk}/propose/")), path)[0]
    assert ilse.get(address).status_code == 200
    start = re.search(r"start=([^&]+)", address)
    assert start is not None
    ilse.post(path, {"start": start[1]})
    ask.refresh_from_db()
    assert ask.state == "closed"


def test_a_place_in_a_group_meeting_is_not_the_instructors_to_move(school: School) -> None:
    """Neither page of it lets them, and My students does not lead there."""
    place = make_booking(school.circle, school.noor)
    Booking.objects.filter(pk=school.booking.pk).delete()
    ilse, page = as_user(school.ilse.user), f"/my-lessons/{place.pk}/move/"
    assert ilse.get(page).status_code == 403
    assert page not in text_of(ilse.get("/my-students/"))
