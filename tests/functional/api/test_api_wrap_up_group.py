"""Wrapping up a group meeting over the API: the register, a note for all, a goal for one."""

from datetime import timedelta

import pytest

from bookings.domain.vocabulary import NoteState
from bookings.models import Assessment, Booking, OutboxMessage
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api
from tests.functional.api.school import School

OVER = NOW - timedelta(hours=2)


@pytest.fixture
def places(school: School) -> list[Booking]:
    """Noor's and Marlo's places in a class that is over."""
    meeting = school.class_on(starts_at=OVER, places=4)
    return [cast.make_booking(meeting, one) for one in (school.noor, school.marlo)]


def path_of(places: list[Booking]) -> str:
    return f"meetings/{places[0].meeting_id}/wrap-up/"


def body_of(places: list[Booking], **more: object) -> dict[str, object]:
    noor, marlo = places
    return {
        "marks": [
            {"booking": noor.pk, "attendance": "PRESENT"},
            {"booking": marlo.pk, "attendance": "ABSENT_WITH_NOTICE"},
        ],
        "heard": ["Chords in G"],
        "next_steps": ["Four bars a day"],
        "goals": [{"booking": noor.pk, "goal": "Ten chords at 60"}],
        **more,
    }


def test_a_group_is_wrapped_up_and_its_notes_released(
    school: School, places: list[Booking]
) -> None:
    """Who came gets the common text and their own goal; who did not gets nothing."""
    ilse, path = Api(school.ilse.user), path_of(places)
    assert ilse.get(path).json["written_at"] is None
    done = ilse.post(path, body_of(places))
    assert (done.status, done.json["heard"]) == (200, ["Chords in G"])
    noor, marlo = done.json["members"]
    assert (noor["attendance"], noor["goal"], noor["has_draft"]) == (
        "PRESENT",
        "Ten chords at 60",
        True,
    )
    assert (marlo["attendance"], marlo["has_draft"]) == ("ABSENT_WITH_NOTICE", False)
    assert ilse.get(path).json == done.json
    release = {"bookings": [places[0].pk], "read_at": done.json["written_at"]}
    released = ilse.post(path + "release/", release)
    assert released.status == 200
    (note,) = Assessment.objects.filter(state=NoteState.RELEASED)
    assert released.json == {"released": [note.pk]}
    assert (note.student, note.goal) == (school.noor, "Ten chords at 60")
    assert (
        OutboxMessage.objects.filter(recipient=school.marlo.user, kind__contains="note").count()
        == 0
    )


def test_drafts_that_were_not_read_are_not_overwritten(
    school: School, places: list[Booking]
) -> None:
    """Two windows: the second has to read what the first wrote."""
    ilse, path = Api(school.ilse.user), path_of(places)
    first = ilse.post(path, body_of(places))
    unread = ilse.post(path, body_of(places, heard=["Something else"]))
    assert (unread.status, unread.code) == (412, "stale")
    again = body_of(places, heard=["Something else"], read_at=first.json["written_at"])
    assert ilse.post(path, again).json["heard"] == ["Something else"]


def test_the_register_alone_leaves_the_notes(school: School, places: list[Booking]) -> None:
    """Marks without a text write no draft."""
    ilse = Api(school.ilse.user)
    marks = body_of(places)["marks"]
    done = ilse.post(path_of(places), {"marks": marks})
    assert (done.status, done.json["written_at"]) == (200, None)
    assert not Assessment.objects.exists()


def test_a_booking_comes_once(school: School, places: list[Booking]) -> None:
    """Nobody is marked twice in one request."""
    mark = {"booking": places[0].pk, "attendance": "PRESENT"}
    refused = Api(school.ilse.user).post(path_of(places), {"marks": [mark, mark]})
    assert refused.status == 422
    assert refused.json["errors"][0]["pointer"] == "#/marks/1/booking"


def test_somebody_of_another_meeting_is_refused(school: School, places: list[Booking]) -> None:
    """A place that is not held here is as one that has ended meanwhile."""
    other = cast.make_booking(school.class_on(), school.posy)
    marks = [{"booking": other.pk, "attendance": "PRESENT"}]
    refused = Api(school.ilse.user).post(path_of(places), {"marks": marks})
    assert (refused.status, refused.code) == (412, "stale")


def test_the_texts_of_a_group_are_never_kept(school: School, places: list[Booking]) -> None:
    """With an Idempotency-Key a retry is told that it is done; the texts are not stored twice."""
    ilse = Api(school.ilse.user)
    assert ilse.post(path_of(places), body_of(places), key="one").status == 200
    again = ilse.post(path_of(places), body_of(places), key="one")
    assert (again.status, again.code) == (409, "already-done")
