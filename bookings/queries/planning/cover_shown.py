"""The answer to who covers an instructor's lessons, with the people whom it names."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q

from accounts.models import Instructor, Student
from bookings.domain.errors import LOAD_CODES
from bookings.domain.vocabulary import PlanState
from bookings.models import CoverQuestion, Meeting, Plan
from bookings.queries.teaching import zone_of_hours


@dataclass(frozen=True, slots=True)
class ShownLesson:
    """A lesson of the plan: whose, what and when."""

    meeting: Meeting
    student: Student
    starts_at: datetime


@dataclass(frozen=True, slots=True)
class ShownHandover:
    """A lesson and who takes it. `giver` makes room, and is None for a lesson to be covered.

    `yes` says in words whether the taker's own yes is needed; empty where it is not.
    """

    lesson: ShownLesson
    to: Instructor
    time_zone: str
    giver: Instructor | None
    makes_room_for: ShownLesson | None
    has_met: bool
    yes: str
    waits: bool


@dataclass(frozen=True, slots=True)
class ShownCover:
    """The answer. `groups` are the group meetings of these hours, which no plan covers. `to_ask`
    are instructors whose yes is needed and has not been asked for.
    """

    instructor: Instructor
    time_zone: str
    handovers: Sequence[ShownHandover]
    uncovered: Sequence[tuple[ShownLesson, str]]
    groups: Sequence[Meeting]
    to_ask: Sequence[Instructor]
    is_adopted: bool

    @property
    def rows(self) -> list[tuple[ShownLesson, ShownHandover | None, str]]:
        """Each lesson by start, with its handover, or without one and with the reason."""
        given = [(one.lesson, one, "") for one in self.handovers]
        left = [(lesson, None, why) for lesson, why in self.uncovered]
        return sorted([*given, *left], key=lambda row: row[0].starts_at)

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing in it to adopt: every lesson is uncovered or waits for a yes."""
        return all(one.waits for one in self.handovers)

    @property
    def verdict(self) -> str:
        """The answer in one sentence."""
        covered = [one for one in self.handovers if one.giver is None]
        whole = len(covered) + len(self.uncovered)
        waiting = sum(1 for one in covered if one.waits)
        said = f"{len(covered)} of {whole} lessons can be covered"
        if not covered:
            return "No lesson can be covered" if whole else "There is no lesson left to cover"
        if self.is_adopted:
            return f"{len(covered) - waiting} of {whole} lessons were covered"
        if waiting:
            return f"{said}, {waiting} of them only with a substitute’s own yes"
        return said


def shown_cover(plan: Plan) -> ShownCover:
    """A cover plan's answer: four queries."""
    answer: dict[str, Any] = plan.answer or {}
    rows = [*answer["handovers"], *answer["uncovered"]]
    ill = plan.asked["instructor"]
    named = {pk for row in answer["handovers"] for pk in (row["to"], row["from"] or ill)}
    people = Instructor.objects.select_related("user", "week").in_bulk([*named, ill])
    students = Student.objects.select_related("user").in_bulk([row["student"] for row in rows])
    meetings, groups = _meetings(plan, rows)
    lessons = {
        row["meeting"]: ShownLesson(
            meetings[row["meeting"]],
            students[row["student"]],
            datetime.fromisoformat(row["starts_at"]),
        )
        for row in rows
    }
    asked = CoverQuestion.objects.filter(plan=plan, answered_at__isnull=True)
    open_questions = set(asked.values_list("meeting_id", "instructor_id"))
    to_ask = {
        row["to"]
        for row in answer["handovers"]
        if row["needs_yes"] and (row["meeting"], row["to"]) not in open_questions
    }
    return ShownCover(
        instructor=people[ill],
        time_zone=zone_of_hours(people[ill]),
        handovers=[_handover(row, lessons, people, open_questions) for row in answer["handovers"]],
        uncovered=[(lessons[row["meeting"]], row["why"]) for row in answer["uncovered"]],
        groups=groups,
        to_ask=[people[pk] for pk in sorted(to_ask)] if plan.is_answered else [],
        is_adopted=plan.state == PlanState.ADOPTED,
    )


def _meetings(
    plan: Plan, rows: Sequence[Mapping[str, Any]]
) -> tuple[dict[int, Meeting], list[Meeting]]:
    """The meetings that the answer names, and the group meetings of the same hours."""
    ids = {row["meeting"] for row in rows}
    in_hours = Q(
        instructor=plan.asked["instructor"],
        starts_at__gte=datetime.fromisoformat(plan.asked["starts_at"]),
        starts_at__lt=datetime.fromisoformat(plan.asked["ends_at"]),
    )
    found = Meeting.objects.filter(in_hours | Q(pk__in=ids)).select_related("offering")
    groups = [one for one in found if not (one.offering.is_one_on_one or one.is_cancelled)]
    return {one.pk: one for one in found if one.pk in ids}, groups


def _handover(
    row: Mapping[str, Any],
    lessons: Mapping[int, ShownLesson],
    people: Mapping[int, Instructor],
    open_questions: set[tuple[int, int]],
) -> ShownHandover:
    to = people[row["to"]]
    return ShownHandover(
        lesson=lessons[row["meeting"]],
        to=to,
        time_zone=zone_of_hours(to),
        giver=people[row["from"]] if row["from"] else None,
        makes_room_for=lessons.get(row["makes_room_for"]),
        has_met=row["has_met"],
        yes=_yes(row, to, is_asked=(row["meeting"], row["to"]) in open_questions),
        waits=row["waits"],
    )


def _yes(row: Mapping[str, Any], to: Instructor, *, is_asked: bool) -> str:
    """Whether the taker's own yes is needed, asked for or given, as a sentence."""
    if row["said_yes"]:
        return f"{to} has said yes."
    if not row["needs_yes"]:
        return "Waits for a yes in the same chain." if row["waits"] else ""
    beyond = any(code in LOAD_CODES for code in row["needs_yes"])
    outside = any(code not in LOAD_CODES for code in row["needs_yes"])
    why = " and ".join(
        words
        for words, applies in (("outside their hours", outside), ("beyond their load", beyond))
        if applies
    )
    asked = "They have been asked." if is_asked else "They have not been asked."
    return f"Only with {to}’s own yes: it is {why}. {asked}"
