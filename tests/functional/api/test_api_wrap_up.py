"""Wrapping up over HTTP: one call, whose answer names what stands, or which part was refused."""

from bookings.models import Assessment, Booking, Mark
from tests.cast import at
from tests.functional.api.client import Api
from tests.functional.api.matrix_rows import lesson_over
from tests.functional.api.world import World

NOTE = {"next_steps": ["Fourth finger first"], "goal": "Ten chords at 72", "follow_up_weeks": 4}
NEXT, GONE = "2027-03-26T15:00:00Z", "2027-02-28T15:00:00Z"


def test_one_call_marks_releases_and_books(world: World) -> None:
    """The answer holds the booking with its attendance, the note, and what was booked."""
    lesson = lesson_over(world)
    sent = {"attendance": "PRESENT", "note": NOTE, "release": True, "next": {"book": NEXT}}
    done = Api(world.school.ilse.user).post(f"bookings/{lesson.pk}/wrap-up/", sent)
    assert done.status == 200, done.body
    shown = done.json
    assert shown["wrapped_up"]["attendance"] == "PRESENT"
    assert (shown["written"]["standing"], shown["written"]["goal"]) == ("RELEASED", NOTE["goal"])
    assert shown["booked"]["starts_at"] == NEXT
    assert Booking.objects.of(world.learner).filter(starts_at=at(NEXT)).exists()


def test_a_refused_part_keeps_nothing_and_is_named(world: World) -> None:
    """A start that is gone: no mark, no note, and a pointer to the member."""
    lesson = lesson_over(world)
    sent = {"attendance": "LATE", "note": NOTE, "next": {"book": GONE}}
    refused = Api(world.school.ilse.user).post(f"bookings/{lesson.pk}/wrap-up/", sent)
    assert (refused.status, refused.json["errors"][0]["pointer"]) == (409, "#/next")
    assert not Mark.objects.exists()
    assert not Assessment.objects.filter(meeting=lesson.meeting).exists()


def test_a_draft_that_has_changed_is_not_overwritten(world: World) -> None:
    """`read_at` names the draft that was read; its `written_at` comes with every answer."""
    lesson, ilse = lesson_over(world), Api(world.school.ilse.user)
    path = f"bookings/{lesson.pk}/wrap-up/"
    first = ilse.post(path, {"note": NOTE}).json
    other = {**NOTE, "goal": "Another goal"}
    assert ilse.post(path, {"note": other}).status == 412
    again = ilse.post(path, {"note": other, "read_at": first["written_at"]})
    assert (again.status, again.json["written"]["goal"]) == (200, "Another goal")


def test_an_unknown_note_in_over_is_not_found(world: World) -> None:
    """With a pointer to the member, and nothing is released."""
    lesson = lesson_over(world)
    sent = {"note": NOTE, "release": True, "over": 999_999}
    refused = Api(world.school.ilse.user).post(f"bookings/{lesson.pk}/wrap-up/", sent)
    assert (refused.status, refused.json["errors"][0]["pointer"]) == (404, "#/over")
    assert not Assessment.objects.released().filter(meeting=lesson.meeting).exists()
