"""A race for statements of hours, issued and corrected while registers are."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from accounts.models import Instructor
from bookings import clock
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance
from bookings.door import rehearse, write
from bookings.models import Booking, Meeting, OwedLesson, RegisterEntry, Statement
from bookings.operations.register import mark_register
from bookings.operations.statements import correct_statement, issue_statement
from bookings.queries.statements import lines_of
from tests import cast
from tests.races.drivers import Hit, Shot
from tests.races.plans import ANY_VERSION, API, Complaints, Plan, Race, among, expect
from tests.races.school import School, token_of
from tests.school.statements import counted_by_hand

TEACHERS, MARKS, ISSUES, CORRECTIONS = 4, 4, 3, 4
WORDS = sorted(word.value for word in Attendance)


@dataclass(frozen=True, slots=True)
class _Books:
    """An instructor's two last periods of three days: a statement is `issued` of the first; in the
    second one register is still open.
    """

    instructor: Instructor
    token: str
    issued: Statement
    places: Sequence[Booking]
    first_on: date

    @property
    def asked(self) -> dict[str, object]:
        """The second period."""
        first, last = self.first_on, self.first_on + timedelta(days=2)
        return {"instructor": self.instructor.pk, "first_on": f"{first}", "last_on": f"{last}"}


def statements(school: School, _: object) -> Plan:
    """R18. Two admins issue one statement and correct another of each of four instructors, while
    the instructor and an admin correct their registers: each statement says what the registers said
    at one instant, and a correction makes it say what counts.
    """
    tokens = [school.admin_token, token_of(cast.make_admin("Ida Quince"))]
    books = [_books(school) for _ in range(TEACHERS)]
    random, shots = school.random, []
    for one in books:
        told = {"books": one.instructor.pk}
        for meeting in {place.meeting_id: place.meeting for place in one.places}.values():
            for turn in range(MARKS):
                by = one.token if turn % 2 else tokens[0]
                shots.append(_marks(school, one, meeting, by, random.uniform(0, 0.5)))
        for turn in range(ISSUES):
            sent = {"token": tokens[turn % 2], "delay": random.uniform(0, 0.6), "told": told}
            path = f"{API}statements/"
            shots.append(Shot(operation="issue", path=path, body=one.asked, **sent))
        for turn in range(CORRECTIONS):
            path = f"{API}statements/{one.issued.pk}/correct/"
            shots.append(
                Shot(
                    operation="correct",
                    path=path,
                    token=tokens[turn % 2],
                    delay=random.uniform(0, 0.6),
                    headers=ANY_VERSION,
                    told=told | {"statement": one.issued.pk},
                )
            )

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = among(hits, {"already-done", "register-open"})
        return wrong + [said for one in books for said in _wrong_books(school, one, hits)]

    return Plan(shots=shots, judge=judge)


def _books(school: School) -> _Books:
    """Two lessons in each period, and in the second a group of three, whose register is open."""
    ilse, week = school.instructor(school.lesson), school.past_week()
    token, students = token_of(ilse.user), [one.student for one in school.newcomers(3)]
    noon = week + timedelta(hours=12)
    lessons = [
        cast.taught(ilse, students[0], school.lesson, noon + timedelta(days=day))
        for day in (0, 1, 3)
    ]
    group = cast.make_meeting(school.group, ilse, noon + timedelta(days=4), places=3)
    places = [cast.make_booking(group, student) for student in students]
    for lesson in lessons:
        _mark(ilse, lesson.meeting, {lesson.pk: Attendance.PRESENT})
    issued = _issued(school, ilse, week)
    return _Books(ilse, token, issued, [*lessons, *places], week.date() + timedelta(days=3))


def _mark(ilse: Instructor, meeting: Meeting, marks: dict[int, Attendance]) -> None:
    now = clock.now()
    write(lambda: mark_register(actor=ilse.user, meeting=meeting, marks=marks, now=now), now=now)


def _issued(school: School, ilse: Instructor, week: datetime) -> Statement:
    now, first_on = clock.now(), week.date()
    return write(
        lambda: issue_statement(
            actor=school.admin,
            instructor=ilse,
            first_on=first_on,
            last_on=first_on + timedelta(days=2),
            now=now,
        ),
        now=now,
    )


def _marks(school: School, books: _Books, meeting: Meeting, token: str, delay: float) -> Shot:
    """Everybody in a meeting is marked, or corrected, with words by chance."""
    marks = [
        {"booking": place.pk, "attendance": school.random.choice(WORDS)}
        for place in books.places
        if place.meeting_id == meeting.pk
    ]
    return Shot(
        operation="register",
        method="PUT",
        path=f"{API}meetings/{meeting.pk}/register/",
        token=token,
        body={"marks": marks},
        headers=ANY_VERSION,
        told={"books": books.instructor.pk, "meeting": meeting.pk},
        delay=delay,
    )


def _wrong_books(school: School, books: _Books, hits: Sequence[Hit]) -> Complaints:
    """One statement a period at most; corrected, each says what counts by a walk over the rows.
    What is owed for a lesson follows the last word of its register.
    """
    pk, wrong = books.instructor.pk, []
    own = [hit for hit in hits if hit.shot.told.get("books") == pk]
    issued = sum(hit.status == 201 for hit in own)
    found = list(Statement.objects.of(pk))
    wrong += expect(f"statements of instructor {pk}", len(found), 1 + min(issued, 1))
    wrong += expect(f"registers marked of instructor {pk}", _marked(own), 4 * MARKS)
    for one in found:
        counted = counted_by_hand(pk, one.first_on, one.last_on)
        wrong += expect(f"minutes of statement {one.pk}", _once_corrected(school, one), counted)
    for place in books.places:
        last = RegisterEntry.objects.filter(booking=place).latest("pk").attendance
        is_owed = OwedLesson.objects.filter(booking=place).exists()
        alone = place.meeting.offering_id == school.lesson.pk
        should_be = alone and last == Attendance.INSTRUCTOR_ABSENT
        wrong += expect(f"owed for booking {place.pk}", is_owed, should_be)
    return wrong


def _marked(own: Sequence[Hit]) -> int:
    return sum(hit.status == 200 for hit in own if hit.shot.operation == "register")


def _once_corrected(school: School, statement: Statement) -> int:
    """The minutes that its lines and counter-lines say after one more correction, which is taken
    back: the checker reads what the race has left.
    """

    def corrected() -> int:
        correct_statement(actor=school.admin, statement=statement, now=clock.now())
        return sum(line.counted_minutes for line in lines_of(statement))

    try:
        return rehearse(corrected)
    except Refused as refusal:
        if refusal.code != "already-done":
            raise
        return sum(line.counted_minutes for line in lines_of(statement))


RACES = [Race("R18", "statements issued and corrected beside registers", statements)]
