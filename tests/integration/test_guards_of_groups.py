"""The database's own guards of a minimum to run and of a held next place."""

import pytest
from django.db import IntegrityError, transaction

from bookings.domain.vocabulary import Kind, PlaceKind
from bookings.models import Meeting, guards
from bookings.models.guards.refusals import broken_guard
from tests import cast
from tests.cast import NOW, at

pytestmark = pytest.mark.django_db


@pytest.fixture
def meeting() -> Meeting:
    """Four places in a group that is certain."""
    circle = cast.make_offering("Circle", Kind.GROUP_MEETING, 50)
    return cast.make_meeting(circle, cast.make_instructor(), at("2027-03-12T17:00Z"), places=4)


@pytest.mark.parametrize(
    "wrong",
    [
        {"status": "TENTATIVE"},
        {"minimum": 3},
        {"decide_by": at("2027-03-11T17:00Z")},
        {"minimum": 0, "decide_by": at("2027-03-11T17:00Z")},
        {"status": "TENTATIVE", "minimum": 5, "decide_by": at("2027-03-11T17:00Z")},
    ],
)
def test_a_meeting_is_uncertain_only_by_a_minimum_that_can_be_met(
    meeting: Meeting, wrong: dict[str, object]
) -> None:
    """Neither without one, nor with half of one, none, or one above the places."""
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        Meeting.objects.filter(pk=meeting.pk).update(**wrong)
    assert broken_guard(caught.value) in {"meeting_minimum", "meeting_tentative_is_open"}


def test_once_decided_places_may_go_below_the_minimum(meeting: Meeting) -> None:
    """It says what was asked then."""
    decided = {"minimum": 3, "decide_by": at("2027-03-11T17:00Z"), "places": 2}
    assert Meeting.objects.filter(pk=meeting.pk).update(**decided) == 1


def test_the_next_place_of_a_queue_is_held_once(meeting: Meeting) -> None:
    """Not for two who wait as players; for a listener beside them, and for one who has left."""
    noor, marlo = cast.make_student(), cast.make_student("Marlo Vance")
    ida, wilf = cast.make_student("Ida Quince"), cast.make_student("Wilf Marsh")
    wait = {"joined_at": NOW, "is_next": True}
    meeting.waiting.create(student=ida, ended_at=NOW, ended_why="left", **wait)
    meeting.waiting.create(student=noor, **wait)
    meeting.waiting.create(student=wilf, place_kind=PlaceKind.LISTENER, **wait)
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        meeting.waiting.create(student=marlo, **wait)
    refusal = guards.as_refusal(caught.value)
    assert refusal is not None
    assert refusal.code == "already-done"
