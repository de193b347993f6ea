"""What guardians decide, and what is decided about them: chosen by the step's own numbers."""

from datetime import timedelta
from itertools import pairwise

from tests.races.desk.pairs import NEXT_TO
from tests.races.desk.rows import Booking
from tests.races.simulation.choices import Choices
from tests.races.simulation.setting import GROUPS


class FamilyChoices(Choices):
    """Steps by name, as in `Choices`."""

    def _consent(self) -> None:
        child = self._child()
        self.acts.consent(child, self._guardian(child), given=self.chance.random() < 0.6)

    def _bar(self) -> None:
        """Mostly one of two guardians."""
        child = self.chance.choice([8, 11]) if self.chance.random() < 0.7 else self._child()
        self.acts.bar(child, self._guardian(child))

    def _book_pair(self) -> None:
        """A lesson for the brother and one for the sister right after or before it."""
        teacher, first = self._teacher(), self.chance.choice([8, 9])
        starts = self._start(self.acts.desk.teachers[teacher].zone, days=9)
        self.acts.book_slot(first, teacher, "consultation", starts)
        beside = starts + timedelta(minutes=self.chance.choice([-30, 30]))
        self.acts.book_slot(17 - first, teacher, "consultation", beside)

    def _move_pair(self) -> None:
        """Mostly two that are next to each other; by hours or days, or by half an hour."""
        rows = [row for row in self.acts.desk.bookings if self._is_lesson(row)]
        pairs = [(one, other) for one in rows for other in rows if self._is_pair(one, other)]
        chosen = pairs if pairs and self.chance.random() < 0.9 else list(pairwise(rows))
        if not chosen:
            return
        one, other = self.chance.choice(chosen)
        taught_by = self.acts.desk.meetings[one.meeting].instructor
        teacher = taught_by if self.chance.random() < 0.6 else self._teacher()
        starts = self._start(self.acts.desk.teachers[teacher].zone, days=9)
        if self.chance.random() < 0.4:
            starts = one.starts_at + timedelta(minutes=self.chance.choice([-60, -30, 30, 60]))
        self.acts.move_pair(one.id, other.id, teacher, starts)

    def _is_lesson(self, row: Booking) -> bool:
        """Whether it is a one-on-one that was ever agreed to and lies ahead."""
        meeting = self.acts.desk.meetings[row.meeting]
        agreed = meeting.offering not in GROUPS and not meeting.proposed
        return agreed and row.starts_at > self.acts.now

    def _is_pair(self, one: Booking, other: Booking) -> bool:
        gap = max(one.starts_at, other.starts_at) - min(one.ends_at, other.ends_at)
        siblings = {one.student, other.student} == {8, 9}
        return siblings and one.live and other.live and timedelta() <= gap <= NEXT_TO

    def _child(self) -> int:
        return self.chance.randint(8, 11)

    def _guardian(self, child: int) -> int:
        return self.chance.randrange(len(self.school.guardians[child]))
