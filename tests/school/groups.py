"""A group meeting with places and a waiting list."""

from datetime import timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind, PlaceKind
from bookings.door import write
from bookings.models import LIVE, Booking, Meeting
from bookings.operations import meetings, places, waiting
from tests import cast
from tests.cast import NOW, at

PLAYER, LISTENER = PlaceKind.PLAYER, PlaceKind.LISTENER


class Class:
    """A studio class of two player places and one listener place on Sunday 14 March 2027, 17:00
    UTC, and four students.
    """

    def __init__(self) -> None:
        cast.make_policy()
        self.admin = cast.make_admin()
        self.ilse = cast.make_instructor()
        self.offering = cast.make_offering("Studio class", Kind.GROUP_MEETING, 60)
        cast.teaches(self.ilse, self.offering)
        cast.publish(self.ilse, cast.DAY_AND_NIGHT)
        self.meeting = self.make(at("2027-03-14T17:00Z"))
        self.students = [
            cast.make_student(name)
            for name in ("Noor Ashgrove", "Marlo Vance", "Juno Petrel", "Otis Fenwick")
        ]

    def make(self, starts_at, **more) -> Meeting:
        values = {"title": "Ornaments", "places": 2, "listener_places": 1, **more}
        return write(
            lambda: meetings.create_meeting(
                actor=self.admin,
                offering=self.offering,
                instructor=self.ilse,
                starts_at=starts_at,
                now=NOW,
                **values,
            ),
            now=NOW,
        )

    def do(self, verb, student=None, now=NOW, **more):
        if student is not None:
            more |= {
                "student": student,
                "meeting": more.get("meeting", self.meeting),
                "place_kind": more.get("place_kind", PLAYER),
            }
            more.setdefault("actor", student.user)
        return write(lambda: verb(now=now, **more), now=now)

    def full(self):
        """Two hold a place, two wait in order."""
        a, b, c, d = self.students
        held = [self.do(places.book_place, a), self.do(places.book_place, b)]
        self.do(waiting.join_waiting_list, c)
        self.do(waiting.join_waiting_list, d, now=NOW + timedelta(minutes=1))
        return held


def refused(code, act):
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code


def counted(meeting):
    """The counters, after checking that they equal the rows."""
    meeting.refresh_from_db()
    for kind, count in ((PLAYER, meeting.taken), (LISTENER, meeting.listeners_taken)):
        assert (
            Booking.objects.filter(meeting=meeting, place_kind=kind, standing__in=LIVE).count()
            == count
        )
    return meeting.taken, meeting.listeners_taken
