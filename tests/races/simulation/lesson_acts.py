"""One-on-ones and weekly places, for the model and for the product."""

from datetime import datetime

from bookings.models import WeeklyPlace
from bookings.operations import booking as lessons
from bookings.operations import intakes, moving, weekly
from tests.races.desk.lessons import BookSlot, CancelSlot, LeaveWeekly, MoveSlot
from tests.races.desk.pairs import MovePair
from tests.races.simulation.both import Both


class LessonActs(Both):
    def book_slot(self, student: int, teacher: int, offering: str, starts: datetime) -> str:
        return self._act(
            BookSlot(self.desk.lesson_at(offering, student, teacher, starts)),
            lambda: lessons.book_slot(
                actor=self._family(student),
                student=self.school.students[student],
                offering=self.school.offerings[offering],
                instructor=self.school.teachers[teacher],
                starts_at=starts,
                intake=intakes.IntakeText(pieces="Two studies."),
                now=self.now,
            ),
        )

    def move_slot(self, booking: int, teacher: int, starts: datetime) -> str:
        actor, theirs = self._theirs(booking)
        meeting = self.desk.meetings[self.desk.bookings[booking].meeting]
        there = self.desk.meeting_at(meeting.offering, teacher, starts)
        return self._act(
            MoveSlot(booking, teacher, starts, there.ends_at, there.held_until),
            lambda: lessons.move_slot(
                actor=actor,
                booking=theirs,
                starts_at=starts,
                instructor=self.school.teachers[teacher],
                now=self.now,
            ),
        )

    def move_pair(self, booking: int, sibling: int, teacher: int, starts: datetime) -> str:
        actor, theirs = self._theirs(booking)
        return self._act(
            MovePair(booking, sibling, teacher, starts),
            lambda: moving.move_pair(
                actor=actor,
                booking=theirs,
                sibling=self._theirs(sibling)[1],
                starts_at=starts,
                instructor=self.school.teachers[teacher],
                now=self.now,
            ),
        )

    def cancel_slot(self, booking: int) -> str:
        actor, theirs = self._theirs(booking)
        return self._act(
            CancelSlot(booking),
            lambda: lessons.cancel_slot(actor=actor, booking=theirs, now=self.now),
        )

    def take_weekly(self, student: int, teacher: int, weekday: int, wall_at: int) -> str:
        """Which dates a term has is judged elsewhere: the model must be free on those taken."""

        def take() -> None:
            place = weekly.take_weekly_place(
                actor=self._family(student),
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
            starts = list(taken[0].meetings.order_by("pk").values_list("starts_at", flat=True))
            self.desk.does(self.desk.weekly_at(student, teacher, starts), self.now)
            self.agree()
        assert (code == "consent-missing") == (not self.desk.at(self.now).consents(student)), code
        assert code in ("", "term-dates", "consent-missing"), code
        return code

    def leave_weekly(self, place: int) -> str:
        theirs = WeeklyPlace.objects.select_related("student__user").order_by("pk")[place]
        actor = self._family(self.desk.weekly[place].student)
        return self._act(
            LeaveWeekly(self.desk.weekly[place]),
            lambda: weekly.leave_weekly_place(actor=actor, place=theirs, now=self.now),
        )
