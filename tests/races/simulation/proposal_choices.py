"""Who proposes times, and who answers: chosen by the step's own numbers."""

from datetime import datetime

from tests.races.simulation.family_choices import FamilyChoices


class ProposalChoices(FamilyChoices):
    """Steps by name, as in `Choices`."""

    def _propose(self) -> None:
        """At times at an hour that somebody has, and at times instead of a lesson."""
        desk = self.acts.desk
        booking = self._booking(one_on_one=True) if self.chance.random() < 0.4 else None
        if booking is not None:
            teacher = desk.meetings[desk.bookings[booking].meeting].instructor
            asked, *starts = self._starts(teacher, self.chance.randint(1, 3) + 1)
            self.acts.propose_instead(booking, asked, starts)
            return
        teacher, offering = self._teacher(), self.chance.choice(["consultation", "lesson"])
        starts = self._starts(teacher, self.chance.randint(1, 3))
        self.acts.propose(self._student(), teacher, offering, starts)

    def _answer_times(self) -> None:
        """Mostly a yes to what is open; at times an answer to what has ended."""
        desk = self.acts.desk
        proposals = desk.open_proposals
        if not proposals or self.chance.random() < 0.1:
            proposals = desk.proposals
        if not proposals:
            return
        proposal = self.chance.choice(proposals)
        times = [row.id for row in desk.bookings if row.proposed == proposal.id]
        what = self.chance.choices(["take", "decline", "withdraw"], [6, 2, 2])[0]
        if what == "take":
            self.acts.take_time(self.chance.choice(times))
        elif what == "decline":
            self.acts.decline_times(proposal.id)
        else:
            self.acts.withdraw_times(proposal.id)

    def _by_school(self) -> None:
        """An instructor books for a student, or the family declines what they booked."""
        mine = [row for row in self.acts.desk.bookings if row.decline_by is not None]
        if mine and self.chance.random() < 0.5:
            self.acts.decline_lesson(self.chance.choice(mine).id)
            return
        teacher = self._teacher()
        self.acts.book_by_school(self._student(), teacher, "lesson", self._starts(teacher, 1)[0])

    def _want_held_time(self) -> None:
        """A family books an hour that is held for another."""
        held = [row for row in self.acts.desk.meetings if row.proposed and not row.off]
        if held:
            at = self.chance.choice(held)
            self.acts.book_slot(self._student(), at.instructor, at.offering, at.starts_at)

    def _starts(self, teacher: int, count: int) -> list[datetime]:
        zone = self.acts.desk.teachers[teacher].zone
        found: list[datetime] = []
        while len(found) < count:
            start = self._start(zone, days=9)
            if start not in found:
                found.append(start)
        return found
