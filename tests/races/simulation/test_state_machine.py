"""The whole desk as a state machine: Hypothesis looks for the sequence of acts after which the
database and the model part.
"""

from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import multiple, precondition, rule, run_state_machine_as_test

from tests import profiles
from tests.races.simulation.machine import DeskMachine, hours, picks, teachers
from tests.races.simulation.school import School

pytestmark = [pytest.mark.heavy, pytest.mark.django_db]
STEPS = 30

students, bookings = DeskMachine.students, DeskMachine.bookings


class SchoolMachine(DeskMachine):
    """Times are proposed and answered, too.

    Nobody moves or cancels proposed times: only those that are taken are bookings.
    """

    @rule(
        student=students,
        teacher=teachers,
        offering=st.sampled_from(["consultation", "lesson"]),
        days=st.integers(1, 4),
        at=st.sets(hours, min_size=1, max_size=3),
    )
    def propose(self, student: int, teacher: int, offering: str, days: int, at: set[int]) -> None:
        starts = [self._at(teacher, days, hour) for hour in at]
        self.acts.propose(student, teacher, offering, starts)

    @rule(booking=bookings, days=st.integers(1, 4), hour=hours, at=st.sets(hours, min_size=1))
    def propose_instead(self, booking: int, days: int, hour: int, at: set[int]) -> None:
        meeting = self.desk.meetings[self.desk.bookings[booking].meeting]
        if meeting.one_on_one and not meeting.proposed:
            asked, *starts = (
                self._at(meeting.instructor, days, h) for h in [hour, *sorted(at)[:3]]
            )
            self.acts.propose_instead(booking, asked, starts)

    @precondition(lambda self: self.desk.proposals)
    @rule(target=bookings, pick=picks, which=st.integers(0, 2))
    def take_time(self, pick: int, which: int) -> Any:
        proposals = self.desk.open_proposals or self.desk.proposals
        proposal = proposals[pick % len(proposals)]
        times = [row.id for row in self.desk.bookings if row.proposed == proposal.id]
        time = times[which % len(times)]
        was_open = self.desk.bookings[time].standing == "OFFERED"
        done = self.acts.take_time(time) == "" and was_open and proposal.moves is None
        return multiple(*([time] if done else []))

    @precondition(lambda self: self.desk.proposals)
    @rule(pick=picks, by_family=st.booleans())
    def end_times(self, pick: int, by_family: bool) -> None:
        proposal = self.desk.proposals[pick % len(self.desk.proposals)].id
        (self.acts.decline_times if by_family else self.acts.withdraw_times)(proposal)

    @rule(target=bookings, student=students, teacher=teachers, days=st.integers(0, 4), hour=hours)
    def book_by_school(self, student: int, teacher: int, days: int, hour: int) -> Any:
        starts = self._at(teacher, days, hour)
        return self._booked(lambda: self.acts.book_by_school(student, teacher, "lesson", starts))

    @rule(booking=bookings)
    def decline_lesson(self, booking: int) -> None:
        if self.desk.meetings[self.desk.bookings[booking].meeting].one_on_one:
            self.acts.decline_lesson(booking)


def test_the_desk_and_its_model_never_part() -> None:
    """Every act succeeds or is refused with the code that the plain model says, and then every row
    reads as the model's.
    """
    SchoolMachine.school = School()
    quiet = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]
    # In the long profile the simulation's seeds go on.
    examples = min(settings.default.max_examples, 100) if profiles.is_thorough() else 8
    run_state_machine_as_test(
        SchoolMachine,
        settings=settings(
            max_examples=examples, stateful_step_count=STEPS, suppress_health_check=quiet
        ),
    )
