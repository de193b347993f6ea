"""A consultation that is just over, and what its instructor writes about it."""

from bookings.domain.practice import PracticeItem
from bookings.domain.vocabulary import Attendance
from bookings.door import write
from bookings.models import Booking, Mark, OutboxMessage, ProposedTimes
from bookings.operations.note_text import NoteText
from bookings.operations.wrap_up import WrappedUp, wrap_up
from tests import cast
from tests.cast import at
from tests.school.consultations import School

OVER = at("2027-02-26T18:05Z")
"""Friday 26 February 2027, five minutes after the consultation."""
TEXT = NoteText(
    heard=["Four studies in three-four, no. 2"],
    bands={"tone": 3},
    obstacle="The fourth finger arrives late.",
    next_steps=["Place the fourth finger first"],
    goal="Ten placed chords at 72",
    practice=[PracticeItem(what="Placing drill", minutes=15)],
    follow_up_weeks=4,
)
NEXT = at("2027-03-26T17:30Z")
"""Four weeks later at the same hour in Dublin."""


class JustOver(School):
    """Ilse has met Noor on Friday 26 February, 17:30 to 17:55 in Dublin."""

    def __init__(self) -> None:
        super().__init__()
        meeting = cast.make_meeting(self.consultation, self.ilse, at("2027-02-26T17:30Z"))
        self.booking = cast.make_booking(meeting, self.noor)

    def wrap_up(self, now=OVER, **more) -> WrappedUp:
        more = {"attendance": Attendance.PRESENT, "booking": self.booking, **more}
        return write(lambda: wrap_up(actor=self.ilse.user, now=now, **more), now=now)


def rows() -> tuple[int, ...]:
    """How many rows a wrap-up may write, table by table; drafts apart."""
    return tuple(model.objects.count() for model in (Booking, Mark, OutboxMessage, ProposedTimes))
