"""An instructor's room on the page of their hours."""

from tests.cast import at, make_booking, make_meeting
from tests.functional.pages.school import School, as_user, text_of

ATTIC = "https://rooms.rowanmere.example/attic"


def test_the_instructor_saves_a_new_room_for_the_lessons_ahead(school: School) -> None:
    """One form on Hours I teach; the answer counts the meetings that have the new address."""
    ilse, old = as_user(school.ilse.user), school.ilse.room
    assert f'value="{old}"' in text_of(ilse.get("/hours/"))
    sent = {"room": ATTIC, "seen": old}
    answer = text_of(ilse.post("/hours/room/", sent, follow=True))
    assert "2 upcoming meetings have the new address" in answer
    school.booking.meeting.refresh_from_db()
    assert school.booking.meeting.join_address == ATTIC
    assert f'href="{ATTIC}"' in text_of(ilse.get(f"/brief/{school.booking.pk}/"))
    again = text_of(ilse.post("/hours/room/", {"room": ATTIC, "seen": ATTIC}, follow=True))
    assert "No upcoming meeting needed the new address." in again


def test_an_admin_changes_the_room_of_an_instructor(school: School) -> None:
    """Named in the form, as with all else on that page."""
    make_booking(
        make_meeting(school.consultation, school.wren, at("2027-03-16T17:00Z")), school.marlo
    )
    sent = {"room": ATTIC, "seen": school.wren.room, "instructor": school.wren.pk}
    answer = as_user(school.dag).post("/hours/room/", sent)
    assert answer.url == f"/hours/?instructor={school.wren.pk}"
    school.wren.refresh_from_db()
    assert school.wren.room == ATTIC


def test_a_room_that_cannot_be_saved_is_explained(school: School) -> None:
    """No web address, one without TLS, and one that another has changed since: the page says so and
    keeps what was typed.
    """
    ilse, old = as_user(school.ilse.user), school.ilse.room
    for room, seen, status in (
        ("not an address", old, 422),
        ("http://rooms.rowanmere.example/attic", old, 422),
        (ATTIC, "https://rooms.rowanmere.example/cellar", 412),
    ):
        answer = ilse.post("/hours/room/", {"room": room, "seen": seen})
        assert answer.status_code == status, room
        assert room in text_of(answer)
    school.ilse.refresh_from_db()
    assert school.ilse.room == old
