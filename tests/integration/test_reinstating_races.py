"""A meeting is reinstated at the instant at which its freed time is wanted by somebody else, on
PostgreSQL.
"""

import pytest

from accounts.models import Instructor, Student
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


class School:
    """Ilse's class, with Noor in it, was called off; Ilse and Wren give consultations too."""

    def __init__(self) -> None:
        cast.make_policy()
        self.ilse, self.wren = cast.make_instructor(), cast.make_instructor("Wren Halloway")
        self.noor, self.marlo = cast.make_student(), cast.make_student("Marlo Vance")
        self.talk = cast.make_offering()
        self.group = cast.make_offering("Studio class", Kind.GROUP_MEETING, 50)
        for teacher in (self.ilse, self.wren):
            cast.teaches(teacher, self.talk)
            cast.publish(teacher, cast.EVERY_DAY)
        self.meeting = cast.make_meeting(self.group, self.ilse, START, places=3)
        asked = {"student": self.noor, "meeting": self.meeting, "place_kind": "player"}
        write(lambda: book_place(actor=self.noor.user, now=NOW, **asked), now=NOW)
        write(
            lambda: call_off(actor=self.ilse.user, meeting=self.meeting, why="", now=NOW), now=NOW
        )

    def reinstate(self) -> object:
        return write(
            lambda: reinstate_meeting(actor=self.ilse.user, meeting=self.meeting, now=NOW), now=NOW
        )

    def book(self, student: Student, teacher: Instructor) -> object:
        asked = {"student": student, "offering": self.talk, "instructor": teacher}
        return write(
            lambda: book_slot(actor=student.user, starts_at=START, now=NOW, **asked), now=NOW
        )


@pytest.mark.parametrize("wanted", ["its instructor", "its student"])
@pytest.mark.parametrize("attempt", range(3))
def test_one_of_the_two_has_the_time(wanted: str, attempt: int) -> None:
    """The instructor's time goes to the class or to the consultation; a student is in one of two
    meetings, and the other is told why.
    """
    school = School()
    group, noor, marlo = school.group, school.noor, school.marlo
    student, teacher = (marlo, school.ilse) if wanted == "its instructor" else (noor, school.wren)
    raised = together(school.reinstate, lambda: school.book(student, teacher))
    assert {error.code if isinstance(error, Refused) else repr(error) for error in raised} <= {
        "taken",
        "own-clash",
    }
    stands = not Meeting.objects.get(pk=school.meeting.pk).is_cancelled
    held = set(
        Booking.objects.filter(standing=Standing.HELD).values_list("student", "meeting__offering")
    )
    if wanted == "its instructor":
        assert held == ({(noor.pk, group.pk)} if stands else {(marlo.pk, school.talk.pk)})
        assert len(raised) == 1
    else:
        assert (stands, len(held), {pk for pk, _ in held}) == (True, 1, {noor.pk})
