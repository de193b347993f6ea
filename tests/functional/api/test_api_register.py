"""Marks that the register cannot take: each is pointed at, and none of the others is kept."""

from datetime import timedelta

import pytest

from bookings.models import Mark
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
