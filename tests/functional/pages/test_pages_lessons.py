"""My lessons: move, cancel, write before, answer an offer."""

from datetime import timedelta

from bookings.domain.vocabulary import Ended, MeetingStatus, Standing
from bookings.models import Booking, OutboxMessage, WaitingPlace
from tests.cast import (
    NOW,
    at,
    make_assessment,
    make_booking,
    make_meeting,
    make_minor,
    make_student,
)
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of


def test_what_is_booked_is_shown_with_its_join_address_and_last_instant(school: School) -> None:
    """The join address is for those booked; the last instant to cancel stands beside it."""
    page = text_of(as_user(school.noor.user).get("/my-lessons/"))
    assert "Friday 12 March" in page
    assert "https://rooms.rowanmere.example/ilse" in page
    assert "until <time" in page
    assert "Thursday 11 March, 12:30" in page


def test_cancelling_in_time_and_late_say_what_they_mean(school: School, hands: Hands) -> None:
    """GET names the consequence; POST in time ends it in time."""
    client = as_user(school.noor.user)
    address = f"/my-lessons/{school.booking.pk}/cancel/"
    assert "You can cancel free of charge until" in text_of(client.get(address))
    hands.at = school.booking.starts_at - timedelta(hours=23)
    assert "A late cancellation is allowed and is charged" in text_of(client.get(address))
    said = text_of(client.post(address, follow=True))
    assert "Cancelled: Consultation. It was cancelled after the deadline, so it is charged." in said
    school.booking.refresh_from_db()
    assert school.booking.ended_why == Ended.CANCELLED_LATE


def test_cancelling_a_one_on_one_cancels_its_meeting(school: School) -> None:
    """One place, one meeting: both end together."""
    as_user(school.noor.user).post(f"/my-lessons/{school.booking.pk}/cancel/")
    school.booking.meeting.refresh_from_db()
    assert school.booking.meeting.status == MeetingStatus.CANCELLED


def test_a_booking_cancelled_elsewhere_is_refused_on_its_page(school: School) -> None:
    """The second POST finds it ended and says so with the page's own sentence."""
    client, address = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/cancel/"
    client.post(address)
    response = client.post(address)
    assert response.status_code == 409
    assert "already ended" in text_of(response)


def test_moving_shows_other_times_and_then_what_it_means(school: School) -> None:
    """The same entry, another start: the consequences are named before the POST."""
    client, address = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/move/"
    assert f"{address}?student=" in text_of(client.get(address + "?since=2027-03-15"))
    asked = {"starts_at": "2027-03-15T16:00:00Z", "instructor": school.ilse.pk}
    assert "You can then cancel free of charge until" in text_of(client.get(address, asked))
    assert client.post(address, asked).status_code == 302
    school.booking.refresh_from_db()
    assert school.booking.starts_at == at("2027-03-15T16:00Z")
    assert school.booking.meeting.sequence == 1


def test_a_move_after_the_notice_is_refused(school: School, hands: Hands) -> None:
    """Nothing moves once the notice has passed, and the page says why."""
    hands.at = school.booking.starts_at - timedelta(hours=23)
    asked = {"starts_at": "2027-03-15T16:00:00Z", "instructor": school.ilse.pk}
    response = as_user(school.noor.user).post(f"/my-lessons/{school.booking.pk}/move/", asked)
    assert response.status_code == 409
    assert "The cancellation deadline has passed" in text_of(response)


def test_the_intake_is_written_and_rewritten(school: School) -> None:
    """Three questions in their order, and the form shows what stands."""
    client, address = as_user(school.noor.user), f"/my-lessons/{school.booking.pk}/intake/"
    assert client.post(address, {"question_1": "First", "question_2": "Second"}).status_code == 302
    assert 'value="Second"' in text_of(client.get(address))
    assert client.post(address, {"recordings": "1\n2\n3\n4"}).status_code == 422


def offer(school: School) -> Booking:
    waiting = WaitingPlace.objects.create(meeting=school.circle, student=school.noor, joined_at=NOW)
    return make_booking(
        school.circle,
        school.noor,
        standing=Standing.OFFERED,
        answer_by=NOW + timedelta(hours=20),
        waiting_place=waiting,
    )


def test_an_offer_is_shown_with_its_answer_by_and_accepted(school: School) -> None:
    """The offer says until when; yes makes it theirs."""
    offered, client = offer(school), as_user(school.noor.user)
    assert "offered to you until Tuesday 2 March, 00:00" in text_of(client.get("/my-lessons/"))
    assert "then it goes to the next in line" in text_of(
        client.get(f"/my-lessons/{offered.pk}/answer/")
    )
    assert client.post(f"/my-lessons/{offered.pk}/answer/", {"say": "yes"}).status_code == 302
    offered.refresh_from_db()
    assert offered.standing == Standing.HELD


def test_an_offer_is_declined_and_a_late_yes_is_refused(school: School, hands: Hands) -> None:
    """After the answer-by a yes comes too late; a no before it ends the offer."""
    offered, client = offer(school), as_user(school.noor.user)
    hands.at = NOW + timedelta(hours=21)
    assert client.post(f"/my-lessons/{offered.pk}/answer/", {"say": "yes"}).status_code == 409
    hands.at = NOW
    assert client.post(f"/my-lessons/{offered.pk}/answer/", {"say": "no"}).status_code == 302
    offered.refresh_from_db()
    assert offered.ended_why == Ended.DECLINED


def test_a_place_in_a_group_meeting_moves_to_another(school: School) -> None:
    """Leaves one and joins the other in one step; a full one changes nothing."""
    held = make_booking(school.circle, school.noor)
    other = make_meeting(
        school.group, school.wren, at("2027-03-20T16:00Z"), title="Again", places=1
    )
    client, address = as_user(school.noor.user), f"/my-lessons/{held.pk}/change/"
    assert client.get(f"/my-lessons/{held.pk}/move/").url == address
    assert "Again" in text_of(client.get(address))
    assert client.post(address, {"meeting": other.pk}).status_code == 302
    assert Booking.objects.get(meeting=other, standing=Standing.HELD).student == school.noor


def test_a_guardian_switches_between_children(school: School) -> None:
    """Links at the top, kept while they look around; a stranger's child is not there."""
    make_minor("Kit Lindqvist-Reed", guardian=school.hedda, level=4)
    client = as_user(school.hedda)
    assert "Kit’s lessons" in text_of(client.get("/my-lessons/"))
    assert "Posy’s lessons" in text_of(client.get(f"/my-lessons/?student={school.posy.pk}"))
    assert "Posy’s lessons" in text_of(client.get("/my-lessons/"))
    assert client.get(f"/my-lessons/?student={school.noor.pk}").status_code == 404


def test_waiting_says_the_rank_in_words(school: School) -> None:
    """On screens: on the waiting list, second."""
    for student in (school.marlo, school.noor):
        WaitingPlace.objects.create(meeting=school.circle, student=student, joined_at=NOW)
    assert "on the waiting list, second" in text_of(as_user(school.noor.user).get("/my-lessons/"))


def test_not_yours_looks_like_not_there(school: School) -> None:
    """Another student gets 404 for every address of the booking, and nothing changes."""
    client = as_user(school.marlo.user)
    for page in ("cancel", "move", "change", "intake", "answer"):
        address = f"/my-lessons/{school.booking.pk}/{page}/"
        assert client.get(address).status_code == 404
        assert client.post(address, {"say": "no"}).status_code == 404
    school.booking.refresh_from_db()
    assert school.booking.standing == Standing.HELD
    assert not OutboxMessage.objects.exists()


def test_a_released_assessment_is_read_by_its_student_and_the_reading_is_kept(
    school: School,
) -> None:
    """Released: the student reads it without the private remarks; drafts and strangers get 404."""
    note = make_assessment(school.noor, school.ilse)
    note.private_remarks = "canary-7f3a"
    note.save()
    address = f"/assessments/{note.pk}/"
    assert as_user(school.noor.user).get(address).status_code == 404
    note.state, note.released_at = "released", NOW
    note.save()
    page = text_of(as_user(school.noor.user).get(address))
    assert "Close each finger into the palm" in page
    assert "canary-7f3a" not in page
    assert note.readings.get().relation == "family"
    assert as_user(school.marlo.user).get(address).status_code == 404
    assert as_user(make_student("Ada Fenn").user).get(address).status_code == 404
