"""Who writes into the books: chosen by the step's own numbers."""

from datetime import timedelta
from zoneinfo import ZoneInfo

from bookings.domain.vocabulary import Attendance
from bookings.models import Meeting, OwedLesson, Statement, StatementLine
from tests.races.simulation.proposal_choices import ProposalChoices

LONGEST_PERIOD = 9


class BooksChoices(ProposalChoices):
    """Steps by name, as in `Choices`."""

    def _mark(self) -> None:
        """Mostly what has begun and is not marked; at times a correction, at times too early."""
        agreed = [m for m in self.acts.desk.meetings if not m.proposed]
        begun = [m for m in agreed if m.starts_at <= self.acts.now and not m.off]
        chosen = begun if self.chance.random() < 0.95 else agreed
        for meeting in self.chance.sample(chosen, min(len(chosen), 4)):
            self._mark_one(meeting.id)

    def _mark_one(self, meeting: int) -> None:
        self.acts.mark(meeting, self.chance.choices(list(Attendance), [6, 1, 3, 2, 1], k=3))

    def _make_up(self) -> None:
        owed = list(OwedLesson.objects.still_owed().with_details().order_by("pk"))
        if owed:
            teacher = self._teacher()
            self.acts.make_up(self.chance.choice(owed), teacher, self._starts(teacher, 1)[0])

    def _issue(self) -> None:
        """From the day after the last statement; mostly once every register is marked."""
        teacher = self._teacher()
        today = self.acts.now.astimezone(ZoneInfo(self.acts.desk.teachers[teacher].zone)).date()
        last = Statement.objects.of(self.school.teachers[teacher]).order_by("last_on").last()
        first = last.last_on + timedelta(days=1) if last else today - timedelta(days=LONGEST_PERIOD)
        until = min(first + timedelta(days=self.chance.randint(0, LONGEST_PERIOD)), today)
        if self.chance.random() < 0.9:
            until = min(until, today - timedelta(days=1))
            for meeting in self.acts.desk.meetings:
                over = meeting.instructor == teacher and meeting.starts_at <= self.acts.now
                if over and not (meeting.off or meeting.proposed):
                    self._mark_one(meeting.id)
        if first <= until:
            self.acts.issue(teacher, first, until)

    def _correct(self) -> None:
        """Mostly once a register has been corrected."""
        statements = list(Statement.objects.select_related("instructor__user").order_by("pk"))
        if not statements:
            return
        statement = self.chance.choice(statements)
        lines = StatementLine.objects.filter(statement=statement).order_by("pk")
        if lines and self.chance.random() < 0.8:
            ids = list(Meeting.objects.order_by("pk").values_list("pk", flat=True))
            self._mark_one(ids.index(self.chance.choice(lines).meeting_id))
        self.acts.correct(statement)
