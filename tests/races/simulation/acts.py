"""Every act at the desk, for the model and for the product."""

from datetime import datetime
from typing import Any

from bookings import tasks
from bookings.domain.vocabulary import PlaceKind
from bookings.models import WeeklyPlace
from bookings.operations import booking as lessons
from bookings.operations import (
    calling_off,
    intakes,
    meetings,
    offers,
    places,
    waiting,
    weekly,
)
from bookings.operations.reinstating import reinstate_meeting
from tests.races.simulation.acts_of_people import PeopleActs
from tests.races.simulation.desk import LISTENER, PLAYER

REASON = "Agreed on the telephone."


class Acts(PeopleActs):
    """What anybody may do in one run."""

    # ---- one-on-ones
    def book_slot(self, student: int, teacher: int, offering: str, starts: datetime) -> str:
        return self._both(
            lambda: self.desk.book_slot(student, teacher, offering, starts, self.now),
            lambda: lessons.book_slot(
                actor=self.school.families[student],
                student=self.school.students[student],
                offering=self.school.offerings[offering],
                instructor=self.school.teachers[teacher],
                starts_at=starts,
                intake=intakes.IntakeText(pieces="Two studies."),
                now=self.now,
            ),
        )

    def move_slot(self, booking: int, teacher: int, starts: datetime) -> str:
        actor, theirs = self._hers(booking)
        return self._both(
            lambda: self.desk.move_slot(booking, teacher, starts, self.now),
            lambda: lessons.move_slot(
                actor=actor,
                booking=theirs,
                starts_at=starts,
                instructor=self.school.teachers[teacher],
                now=self.now,
            ),
        )

    def cancel_slot(self, booking: int) -> str:
        actor, theirs = self._hers(booking)
        return self._both(
            lambda: self.desk.cancel_slot(booking, self.now),
            lambda: lessons.cancel_slot(actor=actor, booking=theirs, now=self.now),
        )

    def take_weekly(self, student: int, teacher: int, weekday: int, wall_at: int) -> str:
        """Which dates a term can hold is judged elsewhere: the model takes over what is there."""

        def take() -> None:
            place = weekly.take_weekly_place(
                actor=self.school.families[student],
                student=self.school.students[student],
                instructor=self.school.teachers[teacher],
                offering=self.school.offerings["lesson"],
                term=self.school.term,
                weekday=weekday,
                wall_at=wall_at,
                now=self.now,
            )
            taken.append(place)

        taken: list[WeeklyPlace] = []
        code = self._both(None, take)
        if taken:
            self.desk.take_weekly(
                student,
                teacher,
                list(taken[0].meetings.order_by("pk").values_list("starts_at", flat=True)),
            )
            self.agree()
        assert (code == "consent-missing") == (not self.desk.consents(student, self.now)), code
        assert code in ("", "term-dates", "consent-missing"), code
        return code

    def leave_weekly(self, place: int) -> str:
        theirs = WeeklyPlace.objects.select_related("student__user").order_by("pk")[place]
        actor = self.school.families[self.desk.weekly[place].student]
        return self._both(
            lambda: self.desk.leave_weekly(place, self.now),
            lambda: weekly.leave_weekly_place(actor=actor, place=theirs, now=self.now),
        )

    # ---- places in group meetings
    def book_place(
        self, student: int, meeting: int, kind: str, *, by_office: bool = False, ahead: bool = False
    ) -> str:
        """By an admin with a reason, at times ahead of those who wait."""
        said: dict[str, Any] = {"reason": REASON, "ahead_of_queue": ahead} if by_office else {}
        actor = self.school.admin if by_office else self.school.families[student]
        who, where = self.school.students[student], self._meeting(meeting)
        return self._both(
            lambda: self.desk.book_place(student, meeting, kind, self.now, ahead=ahead),
            lambda: places.book_place(
                actor=actor,
                student=who,
                meeting=where,
                place_kind=PlaceKind(kind),
                now=self.now,
                **said,
            ),
        )

    def join_line(self, student: int, meeting: int, kind: str) -> str:
        return self._queued(self.desk.join_line, waiting.join_waiting_list, student, meeting, kind)

    def leave_line(self, student: int, meeting: int, kind: str) -> str:
        return self._queued(
            self.desk.leave_line, waiting.leave_waiting_list, student, meeting, kind
        )

    def leave_place(self, booking: int, *, by_office: bool = False) -> str:
        actor, theirs = self._hers(booking)
        actor, reason = (self.school.admin, REASON) if by_office else (actor, "")
        return self._both(
            lambda: self.desk.leave_place(booking, self.now, by_office=by_office),
            lambda: places.leave_place(actor=actor, booking=theirs, reason=reason, now=self.now),
        )

    def change_place(self, booking: int, meeting: int) -> str:
        actor, theirs = self._hers(booking)
        return self._both(
            lambda: self.desk.change_place(booking, meeting, self.now),
            lambda: places.move_place(
                actor=actor, booking=theirs, meeting=self._meeting(meeting), now=self.now
            ),
        )

    def accept(self, booking: int) -> str:
        actor, theirs = self._hers(booking)
        return self._both(
            lambda: self.desk.accept(booking, self.now),
            lambda: offers.accept_offer(actor=actor, booking=theirs, now=self.now),
        )

    def decline(self, booking: int) -> str:
        actor, theirs = self._hers(booking)
        return self._both(
            lambda: self.desk.decline(booking, self.now),
            lambda: offers.decline_offer(actor=actor, booking=theirs, now=self.now),
        )

    # ---- meetings
    def make_meeting(
        self, offering: str, teacher: int, starts: datetime, places: int, listeners: int
    ) -> str:
        return self._both(
            lambda: self.desk.make_meeting(
                offering, teacher, starts, {PLAYER: places, LISTENER: listeners}, self.now
            ),
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
        return self._both(
            lambda: self.desk.change_meeting(meeting, self.now, starts=starts, places=wanted),
            lambda: meetings.change_meeting(
                actor=self.school.admin, meeting=theirs, now=self.now, **asked
            ),
        )

    def call_off(self, meeting: int) -> str:
        theirs = self._meeting(meeting)
        return self._both(
            lambda: self.desk.call_off(meeting, self.now),
            lambda: calling_off.call_off(
                actor=self.school.admin, meeting=theirs, why="The instructor is ill.", now=self.now
            ),
        )

    def reinstate(self, meeting: int) -> str:
        theirs = self._meeting(meeting)
        return self._both(
            lambda: self.desk.reinstate(meeting, self.now),
            lambda: reinstate_meeting(actor=self.school.admin, meeting=theirs, now=self.now),
        )

    # ---- both at once
    def fall_due(self) -> None:
        """The periodic task."""
        self.desk.fall_due(self.now)
        tasks.enqueue_due()
        self.agree()
