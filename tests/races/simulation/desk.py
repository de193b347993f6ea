"""The model's desk in one run, with its people: acts are done or refused, and rows are listed by
number.

Everything is named by its number, in order of making; the product's rows, in order of id, must read
the same.
"""

from datetime import datetime, timedelta

from tests.races.desk.lessons import Lesson, TakeWeekly
from tests.races.desk.proposals import LapseTimes, Propose
from tests.races.desk.rows import (
    KINDS,
    OFFERED,
    Away,
    Booking,
    Desk,
    Meeting,
    Proposal,
    Wait,
    Weekly,
)
from tests.races.desk.setting import Act, times_ended
from tests.races.desk.turns import is_anybodys, passed_on
from tests.races.desk.waiting import Lapse
from tests.races.simulation.setting import GROUPS, LENGTHS, Clocked, Student, Teacher


class No(Exception):
    """A rule says no."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


class KeptDesk:
    """One desk after another; an act that breaks a rule raises No and changes nothing."""

    def __init__(self, students: list[Student], teachers: list[Teacher]) -> None:
        self.students, self.teachers, self.rows = students, teachers, Desk()

    def at(self, now: datetime) -> Clocked:
        return Clocked(self.students, self.teachers, now)

    def does(self, act: Act, now: datetime) -> None:
        setting = self.at(now)
        for code in act.refusals(self.rows, setting):
            raise No(code)
        self.rows = act.done(self.rows, setting)

    # ---- rows by number
    @property
    def meetings(self) -> list[Meeting]:
        return sorted(self.rows.meetings, key=lambda row: row.id)

    @property
    def bookings(self) -> list[Booking]:
        return sorted(self.rows.bookings, key=lambda row: row.id)

    @property
    def waits(self) -> list[Wait]:
        return sorted(self.rows.waits, key=lambda row: row.id)

    @property
    def weekly(self) -> list[Weekly]:
        return sorted(self.rows.weekly, key=lambda row: row.id)

    @property
    def proposals(self) -> list[Proposal]:
        return sorted(self.rows.proposals, key=lambda row: row.id)

    @property
    def open_proposals(self) -> list[Proposal]:
        return [row for row in self.proposals if not row.why]

    # ---- rows to be made
    def meeting_at(self, offering: str, teacher: int, starts_at: datetime) -> Meeting:
        """The next meeting, of one place."""
        minutes, changeover = LENGTHS[offering]
        ends_at = starts_at + timedelta(minutes=minutes)
        return Meeting(
            len(self.rows.meetings),
            teacher,
            starts_at,
            ends_at,
            ends_at + timedelta(minutes=changeover),
            one_on_one=offering not in GROUPS,
            offering=offering,
        )

    def lesson_at(self, offering: str, student: int, teacher: int, starts_at: datetime) -> Lesson:
        """The next meeting as a one-on-one with the next booking."""
        meeting = self.meeting_at(offering, teacher, starts_at)
        return Lesson(meeting, student, len(self.rows.bookings))

    def weekly_at(self, student: int, teacher: int, starts: list[datetime]) -> TakeWeekly:
        place = Weekly(len(self.weekly), student)
        first = self.lesson_at("lesson", student, teacher, starts[0])
        lessons = []
        for i, starts_at in enumerate(starts):
            meeting = self.meeting_at("lesson", teacher, starts_at)
            meeting = meeting._replace(id=first.meeting.id + i, weekly=place.id)
            lessons.append(Lesson(meeting, student, first.booking + i))
        return TakeWeekly(student, tuple(lessons), place)

    def times_at(
        self,
        offering: str,
        student: int,
        teacher: int,
        starts: list[datetime],
        moves: int | None = None,
    ) -> Propose:
        """The next proposal, of times in this order."""
        lessons = []
        for i, starts_at in enumerate(starts):
            at = self.meeting_at(offering, teacher, starts_at)
            at = at._replace(id=at.id + i)
            lessons.append(Lesson(at, student, len(self.rows.bookings) + i))
        proposal = Proposal(len(self.rows.proposals), student, teacher, moves=moves)
        return Propose(proposal, tuple(lessons))

    # ---- without a rule
    def comes_back(self, away: Away) -> None:
        self.rows = self.rows._replace(away=self.rows.away - {away})

    def fall_due(self, now: datetime) -> None:
        """Offers and proposals not answered in time lapse, the earliest meeting's first; then what
        stands free goes to whoever may take it by now.
        """
        setting = self.at(now)
        late = [
            row
            for row in self.bookings
            if row.standing == OFFERED
            and row.proposed is None
            and row.answer_by is not None
            and row.answer_by <= now
        ]
        for offer in sorted(late, key=lambda row: (row.starts_at, row.id)):
            self.does(Lapse(offer.id), now)
        for proposal in self.open_proposals:
            if setting.is_due(proposal):
                self.does(LapseTimes(proposal.id), now)
        for meeting in self.meetings:
            for kind in KINDS:
                if not is_anybodys(self.rows, setting, meeting, kind):
                    self.rows = passed_on(self.rows, setting, meeting.id, kind)

    # ---- people
    def meets(self, student: int, teacher: int, now: datetime) -> bool:
        """Whether the two have a meeting ahead, or had one within two weeks."""
        theirs = {row.id for row in self.rows.meetings if row.instructor == teacher}
        return any(
            row.student == student
            and row.standing == "HELD"
            and row.meeting in theirs
            and row.ends_at > now - timedelta(days=14)
            for row in self.rows.bookings
        )

    def withdraw_consent(self, student: int, guardian: int, now: datetime) -> None:
        """Refused while a minor has anything ahead: nothing lives on without a consent."""
        agreed = self.students[student].agreed
        agreed[guardian] = False
        try:
            self._check_consent(student, now)
        except No:
            agreed[guardian] = True
            raise

    def bar(self, student: int, guardian: int, now: datetime) -> None:
        """Their consent counts no more; the last guardian who answers is never barred."""
        who = self.students[student]
        if guardian in who.barred:
            raise No("already-done")
        if len(who.barred) + 1 == len(who.agreed):
            raise No("last-guardian")
        who.barred.add(guardian)
        try:
            self._check_consent(student, now)
        except No:
            who.barred.remove(guardian)
            raise

    def _check_consent(self, student: int, now: datetime) -> None:
        """Without a consent nothing may be ahead, and times proposed to the child end."""
        if self.at(now).consents(student):
            return
        if self._is_ahead(student, now):
            raise No("has-bookings")
        for proposal in self.open_proposals:
            if proposal.student == student:
                self.rows = times_ended(self.rows, proposal, "left", self.at(now))

    def _is_ahead(self, student: int, now: datetime) -> bool:
        """Whether a student has anything ahead; proposed times are agreed by nobody."""
        desk, meetings = self.rows, self.meetings
        booked = any(
            row.student == student
            and row.live
            and row.starts_at > now
            and not meetings[row.meeting].proposed
            for row in desk.bookings
        )
        waits = any(
            row.student == student and row.live and meetings[row.meeting].starts_at > now
            for row in desk.waits
        )
        return (
            booked or waits or any(row.student == student and not row.left for row in desk.weekly)
        )
