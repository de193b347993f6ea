"""An instructor's room over the API: read with its tag, changed for every meeting ahead."""

from tests.functional.api.client import Api
from tests.functional.api.school import School

ATTIC = "https://rooms.rowanmere.example/attic"


def test_a_new_room_reaches_a_lesson_that_is_booked(school: School) -> None:
    """The family reads the new address in the booking, and the answer names the meetings that have
    it.
    """
    booking = school.booked()
    ilse, path = Api(school.ilse.user), f"instructors/{school.ilse.pk}/room/"
    named = {"id": school.ilse.pk, "name": school.ilse.user.name}
    assert ilse.get(path).json == {"instructor": named, "room": school.ilse.room}
    changed = ilse.put(path, {"room": ATTIC}, match=ilse.etag(path))
    assert changed.status == 200
    assert [row["id"] for row in changed.json["meetings_ahead"]] == [booking["meeting"]]
    read = Api(school.noor.user).get(f"bookings/{booking['id']}/")
    assert read.json["join_address"] == ATTIC
    assert ilse.get(path).version == changed.etag


def test_two_who_change_it_at_once_read_it_again(school: School) -> None:
    """Without If-Match it is asked for; with an old tag it is told."""
    ilse, path = Api(school.ilse.user), f"instructors/{school.ilse.pk}/room/"
    old = ilse.etag(path)
    assert ilse.put(path, {"room": ATTIC}).status == 428
    assert ilse.put(path, {"room": ATTIC}, match=old).status == 200
    assert ilse.put(path, {"room": f"{ATTIC}-2"}, match=old).status == 412


def test_a_room_is_a_web_address(school: School) -> None:
    """Another one is refused at its field."""
    reply = Api(school.ilse.user).put(
        f"instructors/{school.ilse.pk}/room/", {"room": "http://x.example"}, match="*"
    )
    assert (reply.status, reply.code) == (422, "invalid")
