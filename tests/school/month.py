"""A month of the demo school, day by day, from one random number generator."""

import random
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

from accounts.models import Instructor, Student, User
from bookings.demo import people
from bookings.domain.clearing import Decision, Remedy
from bookings.domain.errors import Refused
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Attendance, Kind
from bookings.door import write
from bookings.models import Booking, Mark, Meeting, Offering, OwedLesson, Statement, Term
from bookings.operations.booking import book_slot, cancel_slot, move_slot
from bookings.operations.days_away import clear_hours
from bookings.operations.register import mark_register
from bookings.operations.statements import correct_statement, issue_statement
from bookings.operations.weekly import take_weekly_place
from bookings.queries.slots import slots_for
from bookings.queries.weekly import options_for

FIRST = datetime(2027, 3, 1, 6, tzinfo=UTC)
MARKS = [6, 1, 2, 1, 1]
"""How often each word of the register is said, in its order."""


class Month:
    """Everybody acts as they might; `done` counts what was done and what was refused."""

    def __init__(self, seed: int) -> None:
        self.chance, self.now, self.done = random.Random(seed), FIRST, Counter[str]()
        self.dag = User.objects.get(email=people.DAG.email)
        self.students = list(Student.objects.select_related("user").order_by("pk"))
        self.instructors = list(Instructor.objects.select_related("user").order_by("pk"))
        self.term = Term.objects.get()
        self.lesson = Offering.objects.get(kind=Kind.PRIVATE_LESSON)

    def begin(self) -> None:
        """Half the families take a weekly place."""
        for student in self.chance.sample(self.students, len(self.students) // 2):
            self._try("weekly place", lambda student=student: self._take(student))

    def day(self, number: int) -> None:
        """One day: in the morning families and instructors act, in the evening it is marked."""
        self.now = FIRST + timedelta(days=number)
        for act in self.chance.choices(
            [self._book, self._cancel, self._move, self._make_up], [3, 3, 2, 3], k=5
        ):
            self._try(act.__name__.strip("_"), act)
        if self.chance.random() < 0.2:
            self._try("ill", self._ill)
        self.now += timedelta(hours=15)
        for meeting in self._over():
            if self.chance.random() < 0.9:
                self._try("register", lambda meeting=meeting: self._mark(meeting))

    def close(self, days: int) -> list[Statement]:
        """Every register is marked, one statement of each instructor who taught issued; then some
        registers are corrected, and their statements with them.
        """
        self.now = FIRST + timedelta(days=days + 2)
        for meeting in self._over():
            self._mark(meeting)
        last = (FIRST + timedelta(days=days - 1)).date()
        issued = [found for one in self.instructors if (found := self._issue(one, last))]
        for meeting in self.chance.sample(self._begun(), 4):
            self._try("correction of a register", lambda meeting=meeting: self._mark(meeting))
        for statement in issued:
            self._try("correction", lambda statement=statement: self._correct(statement))
        return issued

    def _try(self, what: str, act: Callable[[], object]) -> None:
        try:
            self.done[what if act() is not None else f"no {what}"] += 1
        except Refused as refused:
            self.done[f"{what}: {refused.code}"] += 1

    def _family(self, student: Student) -> User:
        return student.user or student.guardians.order_by("pk")[0]

    def _take(self, student: Student) -> object:
        found = options_for(
            term=self.term, offering=self.lesson, student=student, limit=8, now=self.now
        )
        if not found.options:
            return None
        chosen, _ = self.chance.choice(found.options)
        return self._write(
            take_weekly_place,
            actor=self._family(student),
            student=student,
            instructor=found.instructors[chosen.instructor_id],
            offering=self.lesson,
            term=self.term,
            weekday=chosen.at.weekday,
            wall_at=chosen.at.minute,
            without=[failed.on for failed in chosen.failed],
        )

    def _start(
        self, student: Student, moving: Booking | None = None
    ) -> tuple[Instructor, datetime]:
        offering = moving.meeting.offering if moving else self.lesson
        found = slots_for(
            offering=offering,
            student=student,
            since=self.now,
            until=self.now + timedelta(days=12),
            moving=moving.meeting if moving else None,
            limit=20,
            now=self.now,
        )
        if not found.slots:
            raise Refused("no-slot", "")
        slot = self.chance.choice(found.slots)
        return found.instructors[slot.instructor_id], slot.starts_at

    def _book(self, owed: OwedLesson | None = None) -> object:
        student = owed.student if owed else self.chance.choice(self.students)
        instructor, starts_at = self._start(student)
        return self._write(
            book_slot,
            actor=self._family(student),
            student=student,
            offering=self.lesson,
            instructor=instructor,
            starts_at=starts_at,
            owed=owed,
        )

    def _make_up(self) -> object:
        owed = list(OwedLesson.objects.still_owed().with_details().order_by("pk"))
        return self._book(self.chance.choice(owed)) if owed else None

    def _ahead(self) -> Booking | None:
        rows = Booking.objects.held().ahead(self.now).with_details().order_by("pk")
        found = list(rows.filter(meeting__offering=self.lesson))
        return self.chance.choice(found) if found else None

    def _cancel(self) -> object:
        booking = self._ahead()
        if booking is None:
            return None
        return self._write(cancel_slot, actor=self._family(booking.student), booking=booking)

    def _move(self) -> object:
        booking = self._ahead()
        if booking is None:
            return None
        instructor, starts_at = self._start(booking.student, booking)
        return self._write(
            move_slot,
            actor=self._family(booking.student),
            booking=booking,
            starts_at=starts_at,
            instructor=instructor,
        )

    def _ill(self) -> object:
        """An instructor calls the next day off; some of its lessons are moved instead."""
        instructor = self.chance.choice(self.instructors)
        since = self.now + timedelta(hours=1)
        stretch = Period(since, since + timedelta(days=1))
        rows = Meeting.objects.not_called_off().taught_by(instructor).order_by("pk")
        ill = rows.filter(starts_at__gte=since, starts_at__lt=stretch.ends_at)
        decisions = [
            Decision(row.pk, self.chance.choice([Remedy.CALL_OFF, Remedy.MOVE]))
            if row.offering.is_one_on_one
            else Decision(row.pk, Remedy.CALL_OFF)
            for row in ill.select_related("offering")
        ]
        if not decisions:
            return None
        return self._write(
            clear_hours,
            actor=self.dag,
            instructor=instructor,
            stretch=stretch,
            decisions=decisions,
            why="Ill.",
        )

    def _begun(self) -> list[Meeting]:
        rows = Meeting.objects.not_called_off().filter(
            ends_at__lte=self.now, bookings__standing="HELD"
        )
        return list(rows.select_related("instructor__user").distinct().order_by("pk"))

    def _over(self) -> list[Meeting]:
        """Those that are over and have a place without a mark."""
        unmarked = Booking.objects.held().filter(mark__isnull=True).values("meeting")
        return [
            meeting
            for meeting in self._begun()
            if meeting.pk in set(unmarked.values_list("meeting", flat=True))
        ]

    def _mark(self, meeting: Meeting) -> object:
        held = Booking.objects.in_meetings([meeting]).held().order_by("pk")
        said = self.chance.choices(list(Attendance), MARKS, k=held.count())
        marks = {row.pk: word for row, word in zip(held, said, strict=True)}
        return self._write(
            mark_register, actor=meeting.instructor.user, meeting=meeting, marks=marks
        )

    def _issue(self, instructor: Instructor, last_on: date) -> Statement | None:
        """None is right only for an instructor whose registers hold no mark."""
        try:
            statement = self._write(
                issue_statement,
                actor=self.dag,
                instructor=instructor,
                first_on=FIRST.date(),
                last_on=last_on,
            )
        except Refused:
            taught = Mark.objects.filter(booking__meeting__instructor=instructor)
            assert not taught.filter(booking__ends_at__lt=self.now).exists()
            self.done["empty statement"] += 1
            return None
        assert isinstance(statement, Statement)
        return statement

    def _correct(self, statement: Statement) -> object:
        return self._write(correct_statement, actor=self.dag, statement=statement)

    def _write(self, operation: Callable[..., object], **asked: object) -> object:
        return write(lambda: operation(**asked, now=self.now), now=self.now)
