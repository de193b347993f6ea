"""What families may wish for: other families' weekly times, in a strict order."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.domain.student_hours import WishedWindow
from bookings.domain.vocabulary import Kind, Wish
from bookings.door import write
from bookings.models import AuditRow, WeeklyPlace
from bookings.operations.student_hours import say_hours
from bookings.queries.wishes import other_times, wished_by
from tests import cast
from tests.integration.nothing_written import refused
from tests.school.exchanges import ASKED_AT, WEDNESDAY, ExchangingSchool

pytestmark = pytest.mark.django_db


@pytest.fixture
def school():
    """Three families, each with a place on another day."""
    return ExchangingSchool()


def test_a_time_that_a_student_cannot_hold_is_not_offered(school):
    """Posy has something else at Marlo's time; Noor's is offered."""
    wren = cast.make_instructor("Wren Halloway")
    talk = cast.make_offering("Consultation", "consultation", 25)
    cast.make_booking(cast.make_meeting(talk, wren, cast.at("2027-03-03T17:00Z")), school.posy)
    offered = [one.place_id for one in other_times(school.posys, now=ASKED_AT)]
    assert offered == [school.noors.pk]
    refused("invalid", lambda: school.wish(school.posys, school.marlos))


def test_a_siblings_time_is_not_offered(school):
    """Families move their own places themselves."""
    school.noor.guardianships.create(guardian=school.hedda)
    offered = [one.place_id for one in other_times(school.posys, now=ASKED_AT)]
    assert offered == [school.marlos.pk]


def test_an_hour_marked_never_is_not_offered(school):
    """Noor marks Wednesday noon in New York, when it is 17:00 in Dublin."""
    windows = [WishedWindow(WEDNESDAY, 690, 780, Wish.NEVER)]
    write(
        lambda: say_hours(
            actor=school.noor.user, student=school.noor, windows=windows, school=None, now=ASKED_AT
        ),
        now=ASKED_AT,
    )
    offered = [one.place_id for one in other_times(school.noors, now=ASKED_AT)]
    assert offered == [school.posys.pk]


def test_a_time_of_another_offering_is_not_offered(school):
    """A lesson is exchanged for one of the same offering, so the wish could never come true."""
    singing = cast.make_offering("Singing lesson", Kind.PRIVATE_LESSON, 45)
    cast.teaches(school.ilse, singing)
    school.take(cast.make_student("Wren Halloway"), WEDNESDAY, "18:30", singing)
    offered = [one.place_id for one in other_times(school.posys, now=ASKED_AT)]
    assert offered == [school.noors.pk, school.marlos.pk]


def test_other_times_say_their_rank_in_the_order(school):
    """None in the order of another family."""
    school.wish(school.marlos, school.posys, school.noors)
    found = other_times(school.marlos, now=ASKED_AT)
    assert {one.place_id: one.rank for one in found} == {school.posys.pk: 1, school.noors.pk: 2}
    found = other_times(school.noors, now=ASKED_AT)
    assert {one.rank for one in found} == {None}


def test_an_order_is_strict_and_replaced_whole(school):
    """Each time once; the version tells a later change from an earlier one."""
    order = school.wish(school.marlos, school.posys, school.noors)
    assert wished_by(order) == [school.posys.pk, school.noors.pk]
    refused("invalid", lambda: school.wish(school.marlos, school.posys, school.posys))
    refused("stale", lambda: school.wish(school.marlos, version=0))
    assert wished_by(school.wish(school.marlos, version=1)) == []
    assert AuditRow.objects.filter(verb="wished for times").count() == 2


def test_other_times_are_read_in_as_many_queries_for_more_places(school):
    """Three more families, and the same statements."""
    read = WeeklyPlace.objects.select_related("term", "student__user")
    place, again = (read.get(pk=school.noors.pk) for _ in range(2))
    with CaptureQueriesContext(connection) as few:
        assert len(other_times(place, now=ASKED_AT)) == 2
    for i, hour in enumerate(("18:30", "19:30", "15:30")):
        school.take(cast.make_student(f"Member {i}", "Europe/Dublin"), WEDNESDAY, hour)
    with CaptureQueriesContext(connection) as more:
        assert len(other_times(again, now=ASKED_AT)) == 5
    assert len(more) == len(few)
