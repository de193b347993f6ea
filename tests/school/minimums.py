"""A studio class that runs with at least three players."""

from bookings.domain.minimums import Minimum
from bookings.models import Booking, Meeting
from bookings.operations import minimums, places
from tests.cast import at
from tests.school.groups import Class

DECIDE_BY = at("2027-03-12T18:00Z")
"""Friday 12 March 2027, 18:00 in Dublin and 13:00 in New York: two days before the class."""


class UncertainClass(Class):
    """Four places on Sunday 14 March 2027, 17:00 UTC; decided at DECIDE_BY."""

    def __init__(self) -> None:
        super().__init__()
        self.meeting = self.make(at("2027-03-14T19:00Z"), places=4, minimum=Minimum(3, DECIDE_BY))

    def book(self, count: int) -> list[Booking]:
        """The first so many students book."""
        return [self.do(places.book_place, student) for student in self.students[:count]]

    def decide(self, now=DECIDE_BY) -> Meeting:
        """What falls due by then is done."""
        self.do(minimums.decide_meetings, now=now)
        self.meeting.refresh_from_db()
        return self.meeting
