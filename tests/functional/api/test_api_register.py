"""The register over the API: all present with exceptions in one request, corrections beside the
first entry, and marks that it cannot take.
"""

from datetime import timedelta

import pytest

from bookings.models import Booking, Mark
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api
from tests.functional.api.judging import NOBODY
from tests.functional.api.school import School


@pytest.fixture
def begun(school: School) -> tuple[Api, str, int]:
    """The instructor, the register of a meeting that has begun, and Noor's booking in it."""
    meeting = school.class_on(starts_at=NOW - timedelta(minutes=5))
    held = cast.make_booking(meeting, school.noor)
    return Api(school.ilse.user), f"meetings/{meeting.pk}/register/", held.pk


def test_a_mark_of_a_booking_that_is_not_there(school: School, begun: tuple[Api, str, int]) -> None:
    """An id that leads nowhere and one of another meeting are missed alike: 404 at each of them."""
    ilse, path, held = begun
    elsewhere = cast.make_booking(school.class_on(), school.marlo).pk
    marks = [{"booking": pk, "attendance": "PRESENT"} for pk in (NOBODY, held, elsewhere)]
    refused = ilse.put(path, {"marks": marks}, match="*")
    assert (refused.status, refused.code) == (404, "not-found"), refused.body
    pointers = [error["pointer"] for error in refused.json["errors"]]
    assert pointers == ["#/marks/0/booking", "#/marks/2/booking"]
    assert not Mark.objects.exists()


def test_a_booking_that_is_marked_twice(begun: tuple[Api, str, int]) -> None:
    """Of two marks nobody knows which was meant, so neither is taken."""
    ilse, path, held = begun
    marks = [{"booking": held, "attendance": word} for word in ("PRESENT", "LATE")]
    refused = ilse.put(path, {"marks": marks}, match="*")
    assert (refused.status, refused.code) == (422, "invalid"), refused.body
    assert [error["pointer"] for error in refused.json["errors"]] == ["#/marks/1/booking"]
    assert not Mark.objects.exists()


def test_a_register_that_says_nothing(begun: tuple[Api, str, int]) -> None:
    """Neither marks nor others: 422 that points at what to send."""
    ilse, path, _ = begun
    refused = ilse.put(path, {}, match="*")
    assert (refused.status, refused.code) == (422, "invalid"), refused.body
    assert [error["pointer"] for error in refused.json["errors"]] == ["#/marks"]


def test_all_present_with_an_exception_in_one_request(
    school: School, begun: tuple[Api, str, int]
) -> None:
    """The exception is named; the others are present."""
    ilse, path, held = begun
    meeting = Booking.objects.get(pk=held).meeting
    late = cast.make_booking(meeting, school.marlo).pk
    sent = {"marks": [{"booking": late, "attendance": "LATE"}], "others": "PRESENT"}
    marked = ilse.put(path, sent, match="*")
    assert marked.status == 200, marked.body
    assert {row["booking"]: row["attendance"] for row in marked.json["results"]} == {
        held: "PRESENT",
        late: "LATE",
    }


def test_the_register_shows_the_first_entry_and_its_correction(
    school: School, begun: tuple[Api, str, int]
) -> None:
    """Both stay, with who entered them and when; the present word stands beside them."""
    ilse, path, held = begun
    assert ilse.get(path).json["results"][0]["register_entries"] == []
    Api(school.dag).put(path, {"others": "ABSENT_WITH_NOTICE"}, match="*")
    ilse.put(path, {"marks": [{"booking": held, "attendance": "PRESENT"}]}, match="*")
    shown = ilse.get(path)
    (row,) = shown.json["results"]
    assert row["attendance"] == "PRESENT"
    assert [(one["attendance"], one["person"]["name"]) for one in row["register_entries"]] == [
        ("ABSENT_WITH_NOTICE", "Dag Emberley"),
        ("PRESENT", "Ilse Quarrow"),
    ]
    assert row["register_entries"][0]["entered_at"].endswith("Z")
    assert shown.version == ilse.get(path.removesuffix("register/")).version
