"""The acts of a day at the desk as rules of a state machine."""

from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from typing import Any
from unittest import mock
from zoneinfo import ZoneInfo

from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    multiple,
    precondition,
    rule,
)

from bookings import clock
from tests import cast
from tests.races.desk.rows import LISTENER, PLAYER
from tests.races.simulation import invariants
from tests.races.simulation.acts import Acts
from tests.races.simulation.choices import ZONES
from tests.races.simulation.school import ADULTS, CHILDREN, TEACHERS, School
from tests.races.simulation.setting import GROUPS

kinds = st.sampled_from([PLAYER, PLAYER, LISTENER])
teachers = st.sampled_from(range(len(TEACHERS)))
hours = st.integers(9, 20)
picks = st.integers(0, 1000)


class DeskMachine(RuleBasedStateMachine):
    """Each act is done by the model and by the product; `Acts` compares their answers and then all
    rows.
    """

    students, meetings, bookings = Bundle("students"), Bundle("meetings"), Bundle("bookings")
    school: School

    def __init__(self) -> None:
        super().__init__()
        self.run = ExitStack()
        self.run.enter_context(self.school.one_run())
        self.acts = Acts(self.school, cast.NOW + timedelta(days=11))
        self.desk = self.acts.desk
        self.run.enter_context(mock.patch.object(clock, "now", self._now))

    def teardown(self) -> None:
        self.run.close()

    @initialize(target=students)
    def people(self) -> Any:
        return multiple(*range(len(ADULTS) + len(CHILDREN)))

    @initialize(target=meetings, places=st.integers(1, 2), days=st.integers(1, 4))
    def a_class(self, places: int, days: int) -> Any:
        return self._made(
            lambda: self.acts.make_meeting("masterclass", 0, self._at(0, days, 17), places, 1)
        )

    # ---- meetings
    @rule(
        target=meetings,
        offering=st.sampled_from(GROUPS),
        teacher=teachers,
        days=st.integers(0, 4),
        hour=hours,
        places=st.integers(0, 3),
    )
    def make_meeting(self, offering: str, teacher: int, days: int, hour: int, places: int) -> Any:
        return self._made(
            lambda: self.acts.make_meeting(
                offering, teacher, self._at(teacher, days, hour), places, 1
            )
        )

    @rule(meeting=meetings, places=st.integers(0, 4), listeners=st.none() | st.integers(0, 2))
    def change_places(self, meeting: int, places: int, listeners: int | None) -> None:
        self.acts.change_meeting(meeting, places=places, listeners=listeners)

    @rule(meeting=meetings, days=st.integers(0, 4), hour=hours)
    def shift_meeting(self, meeting: int, days: int, hour: int) -> None:
        self.acts.change_meeting(
            meeting, starts=self._at(self.desk.meetings[meeting].instructor, days, hour)
        )

    @rule(meeting=meetings)
    def call_off(self, meeting: int) -> None:
        self.acts.call_off(meeting)

    @rule(meeting=meetings)
    def reinstate(self, meeting: int) -> None:
        self.acts.reinstate(meeting)

    # ---- places
    @rule(target=bookings, student=students, meeting=meetings, kind=kinds)
    def book_place(self, student: int, meeting: int, kind: str) -> Any:
        return self._booked(lambda: self.acts.book_place(student, meeting, kind))

    @rule(target=bookings, student=students, meeting=meetings, kind=kinds, ahead=st.booleans())
    def place_by_office(self, student: int, meeting: int, kind: str, ahead: bool) -> Any:
        return self._booked(
            lambda: self.acts.book_place(student, meeting, kind, by_office=True, ahead=ahead)
        )

    @rule(target=bookings, student=students, meeting=meetings, kind=kinds)
    def join_line(self, student: int, meeting: int, kind: str) -> Any:
        return self._booked(lambda: self.acts.join_line(student, meeting, kind))

    @rule(student=students, meeting=meetings, kind=kinds)
    def leave_line(self, student: int, meeting: int, kind: str) -> None:
        self.acts.leave_line(student, meeting, kind)

    @rule(target=bookings, booking=bookings, by_office=st.booleans())
    def leave_place(self, booking: int, by_office: bool) -> Any:
        return self._booked(lambda: self.acts.leave_place(booking, by_office=by_office))

    @rule(target=bookings, booking=bookings, meeting=meetings)
    def change_place(self, booking: int, meeting: int) -> Any:
        return self._booked(lambda: self.acts.change_place(booking, meeting))

    @precondition(lambda self: self._offers())
    @rule(target=bookings, pick=picks, yes=st.booleans())
    def answer(self, pick: int, yes: bool) -> Any:
        offers = self._offers()
        act = self.acts.accept if yes else self.acts.decline
        return self._booked(lambda: act(offers[pick % len(offers)]))

    @rule(booking=bookings, yes=st.booleans())
    def answer_anything(self, booking: int, yes: bool) -> None:
        """Except proposed times, which are answered otherwise."""
        if self.desk.meetings[self.desk.bookings[booking].meeting].proposed:
            return
        (self.acts.accept if yes else self.acts.decline)(booking)

    # ---- one-on-ones
    @rule(
        target=bookings,
        student=students,
        teacher=teachers,
        offering=st.sampled_from(["consultation", "lesson"]),
        days=st.integers(0, 4),
        hour=hours,
    )
    def book_slot(self, student: int, teacher: int, offering: str, days: int, hour: int) -> Any:
        return self._booked(
            lambda: self.acts.book_slot(student, teacher, offering, self._at(teacher, days, hour))
        )

    @rule(booking=bookings, teacher=teachers, days=st.integers(0, 4), hour=hours)
    def move_slot(self, booking: int, teacher: int, days: int, hour: int) -> None:
        self.acts.move_slot(booking, teacher, self._at(teacher, days, hour))

    @rule(booking=bookings)
    def cancel_slot(self, booking: int) -> None:
        self.acts.cancel_slot(booking)

    # ---- people and time
    @rule(student=students, guardian=st.integers(0, 1), given=st.booleans())
    def consent(self, student: int, guardian: int, given: bool) -> None:
        self.acts.consent(student, guardian, given=given)

    @rule(student=students, guardian=st.integers(0, 1))
    def bar(self, student: int, guardian: int) -> None:
        self.acts.bar(student, guardian)

    @rule(student=students, zone=st.sampled_from(ZONES))
    def change_zone(self, student: int, zone: str) -> None:
        self.acts.change_zone(student, zone)

    @rule(teacher=teachers, days=st.integers(1, 4))
    def go_away(self, teacher: int, days: int) -> None:
        on = (self.acts.now + timedelta(days=days)).date()
        self.acts.go_away(teacher, on, on)

    @rule(minutes=st.sampled_from([1, 45, 300, 700, 1500]))
    def wait(self, minutes: int) -> None:
        self.acts.now += timedelta(minutes=minutes)

    @rule()
    def fall_due(self) -> None:
        self.acts.fall_due()

    @invariant()
    def nothing_is_doubled(self) -> None:
        if self.desk.bookings:
            invariants.check_rows()
            invariants.check_proposal_emails()

    def _offers(self) -> list[int]:
        """Open offers of a place, no proposed times."""
        rows = self.desk.bookings
        return [b.id for b in rows if b.standing == "OFFERED" and b.proposed is None]

    def _now(self) -> datetime:
        return self.acts.now

    def _at(self, teacher: int, days: int, hour: int) -> datetime:
        there = (self.acts.now + timedelta(days=days)).astimezone(
            ZoneInfo(self.desk.teachers[teacher].zone)
        )
        return there.replace(hour=hour, minute=0, second=0, microsecond=0).astimezone(UTC)

    def _made(self, act: Any) -> Any:
        before = len(self.desk.meetings)
        act()
        return multiple(*range(before, len(self.desk.meetings)))

    def _booked(self, act: Any) -> Any:
        """The bookings that the act made, its own and those offered on."""
        before = len(self.desk.bookings)
        act()
        return multiple(*range(before, len(self.desk.bookings)))
