"""An admin's acts on a waiting list over HTTP."""

import pytest
from django.core.cache import cache

from bookings.models import Meeting
from tests import cast
from tests.functional.api.client import Api
from tests.functional.api.refusals import refused
from tests.functional.api.school import School

pytestmark = pytest.mark.sql

WHY = "By telephone"


@pytest.fixture
def meeting(school: School) -> Meeting:
    """One place, which Wilf holds; Noor waits for it."""
    cache.clear()
    meeting = school.class_on(places=1)
    cast.make_booking(meeting, cast.make_student("Wilf Marsh"))
    meeting.waiting.create(student=school.noor, joined_at=cast.NOW)
    return meeting


def test_the_next_place_is_held_and_the_list_keeps_its_order(
    school: School, meeting: Meeting
) -> None:
    """Marlo is added last and held the next place; whoever reads the list sees the exception."""
    dag, path = Api(school.dag), f"meetings/{meeting.pk}/waiting-list/"
    asked = {"student": school.marlo.pk, "reason": WHY}
    added = dag.post(path + "add/", asked)
    assert (added.status, added.json["rank"], added.json["is_next"]) == (201, 2, False)
    refused(dag.post(path + "hold-next/", asked), "version-needed")
    held = dag.post(path + "hold-next/", asked, match=added.etag)
    assert (held.status, held.json["rank"], held.json["is_next"]) == (200, 2, True)
    rows = dag.get(path).json["results"]
    assert [(row["student"]["name"], row["is_next"]) for row in rows] == [
        ("Noor Ashgrove", False),
        ("Marlo Vance", True),
    ]
    booking = meeting.bookings.get()
    left = dag.delete(
        f"meetings/{meeting.pk}/roster/", {"booking": booking.pk, "reason": WHY}, match="*"
    )
    assert left.status == 204
    assert [Api(who.user).get("offers/").json["results"] == [] for who in _both(school)] == [
        True,
        False,
    ]


def _both(school: School) -> tuple[cast.Student, cast.Student]:
    return school.noor, school.marlo


def test_it_is_let_go_of_and_a_student_is_removed(school: School, meeting: Meeting) -> None:
    """Each with a reason; a second time there is nothing to do."""
    dag, path = Api(school.dag), f"meetings/{meeting.pk}/waiting-list/"
    asked = {"student": school.noor.pk, "reason": WHY}
    dag.post(path + "hold-next/", asked, match="*")
    gone = dag.post(path + "let-go/", asked, match="*")
    assert (gone.status, gone.json["rank"], gone.json["is_next"]) == (200, 1, False)
    refused(dag.post(path + "let-go/", asked, match="*"), "already-done")
    assert dag.post(path + "remove/", asked, match="*").status == 204
    assert dag.get(path).json["results"] == []
    refused(dag.post(path + "remove/", asked, match="*"), "not-waiting")
    refused(dag.post(path + "add/", {"student": school.noor.pk}), "invalid")
