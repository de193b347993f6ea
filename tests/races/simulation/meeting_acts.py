"""Group meetings made and changed, meetings called off, for the model and for the product."""

from datetime import datetime
from typing import Any

from bookings.models import Booking, OwedLesson
from bookings.operations import calling_off, meetings
from bookings.operations.reinstating import reinstate_meeting
from tests.races.desk.meetings import CallOff, ChangeMeeting, MakeMeeting, Reinstate
from tests.races.desk.rows import LISTENER, PLAYER
from tests.races.simulation.both import Both


class MeetingActs(Both):
    def make_meeting(
        self, offering: str, teacher: int, starts: datetime, places: int, listeners: int
    ) -> str:
        new = self.desk.meeting_at(offering, teacher, starts)
        return self._act(
            MakeMeeting(new._replace(places=places, listener_places=listeners)),
            lambda: meetings.create_meeting(
                actor=self.school.admin,
                offering=self.school.offerings[offering],
                instructor=self.school.teachers[teacher],
                starts_at=starts,
                title="Ornaments",
                places=places,
                listener_places=listeners,
                now=self.now,
            ),
        )

    def change_meeting(
        self,
        meeting: int,
        *,
        starts: datetime | None = None,
        places: int | None = None,
        listeners: int | None = None,
        title: str | None = None,
    ) -> str:
        wanted = {kind: n for kind, n in ((PLAYER, places), (LISTENER, listeners)) if n is not None}
        theirs = self._meeting(meeting)
        asked: dict[str, Any] = {
            "starts_at": starts,
            "places": places,
            "listener_places": listeners,
            "title": title,
        }
        return self._act(
            ChangeMeeting(meeting, wanted, starts),
            lambda: meetings.change_meeting(
                actor=self.school.admin, meeting=theirs, now=self.now, **asked
            ),
        )

    def call_off(self, meeting: int) -> str:
        theirs = self._meeting(meeting)
        return self._act(
            CallOff(meeting),
            lambda: calling_off.call_off(
                actor=self.school.admin, meeting=theirs, why="The instructor is ill.", now=self.now
            ),
        )

    def reinstate(self, meeting: int) -> str:
        theirs = self._meeting(meeting)
        return self._act(
            Reinstate(meeting, any(map(_is_made_up, theirs.bookings.all()))),
            lambda: reinstate_meeting(actor=self.school.admin, meeting=theirs, now=self.now),
        )


def _is_made_up(lesson: Booking) -> bool:
    """Whether a make-up lesson stands for this one, or for the one that made it up and ended."""
    make_up = Booking.objects.filter(makes_up__booking=lesson).first()
    if make_up is None:
        return False
    owed_again = OwedLesson.objects.filter(booking=make_up).exists()
    return _is_made_up(make_up) if owed_again else True
