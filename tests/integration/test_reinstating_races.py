"""A meeting is reinstated at the instant at which its freed time is wanted by somebody else, on
PostgreSQL.
"""

import pytest

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind, Standing
from bookings.door import write
from bookings.models import Booking, Meeting
from bookings.operations.booking import book_slot
from bookings.operations.calling_off import call_off
from bookings.operations.places import book_place
from bookings.operations.reinstating import reinstate_meeting
from tests import cast
from tests.cast import NOW, at
from tests.threads import together

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]
START = at("2027-03-16T17:00Z")


@pytest.mark.parametrize("wanted", ["her instructor", "her student"])
@pytest.mark.parametrize("attempt", range(3))
def test_one_of_the_two_has_the_time(wanted: str, attempt: int) -> None:
    """The instructor's time goes to the class or to the consultation; a student is in one of two
    meetings, and the other is told why.
    """
    cast.make_policy()
    ilse, wren, noor, marlo = (
        cast.make_instructor(),
        cast.make_instructor("Wren Halloway"),
        cast.make_student(),
        cast.make_student("Marlo Vance"),
    )
    talk, group = cast.make_offering(), cast.make_offering("Studio class", Kind.GROUP_MEETING, 50)
    for teacher in (ilse, wren):
        cast.teaches(teacher, talk)
        cast.publish(teacher, cast.EVERY_DAY)
    meeting = cast.make_meeting(group, ilse, START, places=3)
    write(
        lambda: book_place(
            actor=noor.user, student=noor, meeting=meeting, place_kind="player", now=NOW
        ),
        now=NOW,
    )
    write(lambda: call_off(actor=ilse.user, meeting=meeting, why="", now=NOW), now=NOW)
    student, teacher = (marlo, ilse) if wanted == "her instructor" else (noor, wren)

    def book() -> Booking:
        return book_slot(
            actor=student.user,
            student=student,
            offering=talk,
            instructor=teacher,
            starts_at=START,
            now=NOW,
        )

    raised = together(
        lambda: write(
            lambda: reinstate_meeting(actor=ilse.user, meeting=meeting, now=NOW), now=NOW
        ),
        lambda: write(book, now=NOW),
    )
    assert {error.code if isinstance(error, Refused) else repr(error) for error in raised} <= {
        "taken",
        "own-clash",
    }
    stands = not Meeting.objects.get(pk=meeting.pk).is_cancelled
    held = set(
        Booking.objects.filter(standing=Standing.HELD).values_list("student", "meeting__offering")
    )
    if wanted == "her instructor":
        assert held == ({(noor.pk, group.pk)} if stands else {(marlo.pk, talk.pk)})
        assert len(raised) == 1
    else:
        assert (stands, len(held), {pk for pk, _ in held}) == (True, 1, {noor.pk})
