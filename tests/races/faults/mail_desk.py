"""A school whose mail server fails, its clock that is moved by hand, and a transport that may die.

Operations go through the write door, mail through the product's own SMTP transport.
"""

import random
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Any

from django.core.mail.backends.smtp import EmailBackend

from accounts.models import Student
from bookings import door, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind, PlaceKind, Standing
from bookings.models import Booking
from bookings.operations.booking import book_slot, cancel_slot, move_slot
from bookings.operations.places import book_place, leave_place
from bookings.operations.waiting import join_waiting_list
from tests import cast

DAYS = 10


class Died(BaseException):
    """The process ends here; nothing in the program may catch it."""


class Transport(EmailBackend):
    """The product's SMTP transport in a process that may die right after the server said yes."""

    odds = 0.0
    chance = random.Random()
    faults: Counter[str] = Counter()

    def send_messages(self, messages: Any) -> int:
        try:
            sent = super().send_messages(messages)
        except ConnectionRefusedError:
            self.faults["down"] += 1
            raise
        if self.chance.random() < self.odds:
            self.faults["died between send and mark"] += 1
            raise Died
        return sent or 0


class Desk:
    """The school, its clock, and what people do there."""

    def __init__(self, seed: object) -> None:
        self.now = cast.NOW
        self.random = random.Random(f"mails:{seed}")
        cast.make_policy(
            open_consultations=10_000, run_minutes=900, day_minutes=900, week_minutes=6000
        )
        self.admin = cast.make_admin()
        self.lesson, self.group = (
            cast.make_offering(),
            cast.make_offering("Studio class", Kind.GROUP_MEETING, 50),
        )
        self.teachers = [
            cast.make_instructor(name, "Europe/Dublin")
            for name in ("Ilse Quarrow", "Wren Halloway")
        ]
        for teacher in self.teachers:
            cast.teaches(teacher, self.lesson, self.group)
            cast.publish(teacher, cast.EVERY_DAY)
        self.meetings = [
            cast.make_meeting(
                self.group,
                self.teachers[0],
                cast.NOW + timedelta(days=DAYS + 5 + i),
                places=2,
                title="Ornaments",
            )
            for i in range(3)
        ]
        self.students = [cast.make_student(f"Student {i}", "Europe/Dublin") for i in range(6)]
        self.students.append(cast.make_minor(time_zone="Europe/Dublin"))
        self.unreachable = cast.make_student("Marlo Vance", "Europe/Dublin")

    def act(self) -> None:
        """One thing that somebody does; a refusal is an answer."""
        what = self.random.choice(
            [
                self.book,
                self.book,
                self.move,
                self.move,
                self.cancel,
                self.place,
                self.place,
                self.leave,
                self.roll_back,
            ]
        )
        with suppress(Refused):
            what()

    def write(self, operation: Callable[[], Any]) -> Any:
        return door.write(operation, now=self.now)

    def book(self, student: Student | None = None) -> None:
        booker = student or self.random.choice(self.students)
        self.write(lambda: self._book(booker))

    def _book(self, student: Student) -> Booking:
        actor = student.user or student.guardians.get()
        teacher, starts_at = self.random.choice(self.teachers), self._start()
        return book_slot(
            actor=actor,
            student=student,
            offering=self.lesson,
            instructor=teacher,
            starts_at=starts_at,
            now=self.now,
        )

    def move(self) -> None:
        booking = self._one(one_on_one=True)
        teacher, starts_at = self.random.choice([None, *self.teachers]), self._start()
        self.write(
            lambda: move_slot(
                actor=self.admin,
                booking=booking,
                starts_at=starts_at,
                instructor=teacher,
                now=self.now,
            )
        )

    def cancel(self) -> None:
        booking = self._one(one_on_one=True)
        self.write(lambda: cancel_slot(actor=self.admin, booking=booking, now=self.now))

    def place(self) -> None:
        student, meeting = self.random.choice(self.students[:6]), self.random.choice(self.meetings)
        asked = {
            "actor": student.user,
            "student": student,
            "meeting": meeting,
            "place_kind": PlaceKind.PLAYER,
            "now": self.now,
        }
        try:
            self.write(lambda: book_place(**asked))
        except Refused as full:
            if full.code == "no-place":
                self.write(lambda: join_waiting_list(**asked))

    def leave(self) -> None:
        booking = self._one(one_on_one=False)
        self.write(lambda: leave_place(actor=booking.student.user, booking=booking, now=self.now))

    def roll_back(self) -> None:
        """Booked, letters and all, and undone: not a word of it may leave."""
        student = self.random.choice(self.students)

        def undone() -> None:
            self._book(student)
            raise Refused("conflict", "Something else was in the way.")

        self.write(undone)

    def _one(self, *, one_on_one: bool) -> Booking:
        live = Booking.objects.filter(
            standing=Standing.HELD,
            starts_at__gt=self.now,
            meeting__offering=self.lesson if one_on_one else self.group,
        )
        found = list(
            live.exclude(student=self.unreachable)
            .select_related("meeting__offering", "meeting__instructor", "student__user")
            .order_by("pk")
        )
        if not found:
            raise Refused("not-found", "Nobody has anything yet.")
        return self.random.choice(found)

    def _start(self) -> datetime:
        midnight = cast.NOW.replace(hour=0) + timedelta(days=self.random.randrange(4, DAYS))
        return midnight + timedelta(hours=9, minutes=30 * self.random.randrange(23))

    def drain(self) -> None:
        """The outbox's rounds at this moment, each ended by a death where the transport dies."""
        with suppress(Died):
            outbox.drain(lambda: self.now)
