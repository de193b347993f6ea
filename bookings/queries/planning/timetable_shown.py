"""The answer to a term's timetable, with the people whom it names."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from accounts.models import Instructor, Student
from bookings.domain.hours import WEEKDAYS
from bookings.domain.instants import resolve
from bookings.domain.terms import term_dates
from bookings.domain.wall import clock
from bookings.models import Offering, Plan, Term
from bookings.queries.teaching import zone_of_hours

WHY = {
    "no-hours": "No time of the term holds every lesson for them.",
    "consent": "Every possible time costs 8 or more, and the family has not agreed to such hours.",
    "taken": "Their times are needed for others, or the instructor’s load is full.",
}
NEEDS = {
    "consent": "the family accepts an inconvenient hour",
    "load": "the instructor teaches more than their load allows",
    "other-consent": "another family accepts an inconvenient hour",
    "other-leaves": "others lose their places",
}


@dataclass(frozen=True, slots=True)
class ShownPlace:
    """An instructor, and a weekday and minute of the day on that instructor's clock."""

    instructor: Instructor
    weekday: int
    wall_at: int

    @property
    def zone(self) -> str:
        return zone_of_hours(self.instructor)

    def __str__(self) -> str:
        return f"{WEEKDAYS[self.weekday]} {clock(self.wall_at)} with {self.instructor}"


@dataclass(frozen=True, slots=True)
class Row:
    """A student's place in the plan. `before` is None for a student who had none; `first_at` is the
    first lesson. `is_fixed` says that the plan was asked to leave it as it is.
    """

    student: Student
    place: ShownPlace
    burden: int
    before: ShownPlace | None
    first_at: datetime | None
    minutes: int
    is_fixed: bool

    @property
    def is_kept(self) -> bool:
        return self.before == self.place

    @property
    def fixing(self) -> str:
        """The place as a form sends it back."""
        place = self.place
        return f"{self.student.pk}@{place.instructor.pk}@{place.weekday}@{place.wall_at}"


@dataclass(frozen=True, slots=True)
class Missing:
    """A student without a place, why, and what would give them one."""

    student: Student
    why: str
    change: str


@dataclass(frozen=True, slots=True)
class ShownTimetable:
    """The answer; rows by instructor, weekday and time."""

    term: Term
    offering: Offering
    rows: Sequence[Row]
    missing: Sequence[Missing]

    @property
    def greatest(self) -> int:
        return max((row.burden for row in self.rows), default=0)

    @property
    def verdict(self) -> str:
        """The answer in one sentence."""
        if not self.rows:
            return "Nobody could be placed"
        count, all_of = len(self.rows), len(self.rows) + len(self.missing)
        placed = (
            "Everybody has a place"
            if count == all_of
            else f"{count} of {all_of} students get a place"
        )
        moved = sum(row.before is not None and not row.is_kept for row in self.rows)
        kept = f", {moved} of them another than before" if moved else ""
        pays = f"nobody pays more than {self.greatest}" if self.greatest else "at easy hours"
        return f"{placed}{kept}; {pays}"

    @property
    def by_instructor(self) -> list[tuple[Instructor, list[Row]]]:
        """The rows of each instructor."""
        found: dict[Instructor, list[Row]] = {}
        for row in self.rows:
            found.setdefault(row.place.instructor, []).append(row)
        return list(found.items())


def shown_timetable(plan: Plan) -> ShownTimetable:
    """A timetable's answer: five queries."""
    answer: dict[str, Any] = plan.answer or {}
    instructors = Instructor.objects.select_related("user", "week").in_bulk(
        _named(answer) | set(plan.asked["instructors"])
    )
    students = Student.objects.select_related("user").in_bulk(plan.asked["students"])
    term = Term.objects.prefetch_related("breaks").get(pk=plan.asked["term"])
    offering = Offering.objects.get(pk=plan.asked["offering"])
    fixed = {row["student"] for row in plan.asked.get("fixed", ())}
    rows = [
        _row(row, term, offering, instructors, students[row["student"]], fixed)
        for row in answer["placed"]
    ]
    rows.sort(key=lambda row: (str(row.place.instructor), row.place.weekday, row.place.wall_at))
    missing = [_missing(row, instructors, students) for row in answer["unplaced"]]
    return ShownTimetable(term, offering, rows, missing)


def _named(answer: Mapping[str, Any]) -> set[int]:
    """The instructors of places before, who may not be among those asked for."""
    return {row["before"]["instructor"] for row in answer["placed"] if row["before"]}


def _row(
    row: Mapping[str, Any],
    term: Term,
    offering: Offering,
    instructors: Mapping[int, Instructor],
    student: Student,
    fixed: Collection[int],
) -> Row:
    place = _place(row, instructors)
    before = _place(row["before"], instructors) if row["before"] else None
    first_at = _first_lesson(term, place)
    is_fixed = student.pk in fixed
    return Row(student, place, row["burden"], before, first_at, offering.minutes, is_fixed)


def _first_lesson(term: Term, place: ShownPlace) -> datetime | None:
    """The first date of the term at that time; None for a term without one."""
    for on in term_dates(term.dates(), place.weekday):
        wall = datetime(on.year, on.month, on.day)  # noqa: DTZ001  a wall time
        return resolve(wall + timedelta(minutes=place.wall_at), 0, place.zone)
    return None


def _place(row: Mapping[str, Any], instructors: Mapping[int, Instructor]) -> ShownPlace:
    return ShownPlace(instructors[row["instructor"]], row["weekday"], row["wall_at"])


def _missing(
    row: Mapping[str, Any],
    instructors: Mapping[int, Instructor],
    students: Mapping[int, Student],
) -> Missing:
    change = row["change"]
    told = _change_in_words(change, instructors, students) if change else ""
    return Missing(students[row["student"]], WHY[row["why"]], told)


def _change_in_words(
    change: Mapping[str, Any],
    instructors: Mapping[int, Instructor],
    students: Mapping[int, Student],
) -> str:
    """What would give the student a place, in a sentence.

    "Tuesday 16:30 with Ilse Quarrow would be possible if the family accepts an inconvenient hour."
    """
    needs = [NEEDS[need] for need in change["needs"]]
    needs += [_move_in_words(move, instructors, students) for move in change["moves"]]
    begins = f"{_place(change, instructors)} would be possible"
    return f"{begins} if {' and '.join(needs)}." if needs else f"{begins}: solve again for longer."


def _move_in_words(
    move: Mapping[str, Any],
    instructors: Mapping[int, Instructor],
    students: Mapping[int, Student],
) -> str:
    student = students[move["student"]]
    if not move["to"]:
        return f"{student} gives their place up"
    return f"{student} moves to {_place(move['to'], instructors)}"
