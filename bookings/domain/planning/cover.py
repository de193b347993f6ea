"""Covering: who takes over the lessons of an instructor who is ill for a day or a week.

Every lesson keeps its time. A substitute teaches its offering at its level and is free: nothing
else of theirs lies over it, changeovers included. Outside their hours, or beyond their load, they
take it only with their own yes: such a lesson is marked. The lessons that are not marked break no
rule of load among themselves and beside what their substitute teaches anyway, so they are written
first. A substitute's own lesson may go to
another instructor at the same time to make room, and one of that instructor's likewise: at most
three lessons change hands for one another, and none does without need.

The order of what counts, each among the plans that are best in everything before it:

1. covered: most lessons are covered;
2. yeses: fewest lessons change hands that need a yes;
3. strangers: fewest go to an instructor whom the student has not met;
4. moves: fewest lessons of substitutes change hands.

Exact, as a model in whole numbers (`cover_model` has its mathematics).
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import combinations

from bookings.domain.errors import Refused
from bookings.domain.planning.model import Answer
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period

OUTSIDE_HOURS = "outside-hours"


@dataclass(frozen=True, slots=True)
class Lesson:
    """A one-on-one at its time; lengths in minutes. `met` are the instructors whom the student has
    had before.
    """

    id: int
    student_id: int
    starts_at: datetime
    minutes: int
    changeover_minutes: int
    offering_id: int
    level: int
    met: tuple[int, ...] = ()

    @property
    def taught(self) -> Period:
        return Period(self.starts_at, self.starts_at + timedelta(minutes=self.minutes))

    @property
    def held(self) -> Period:
        """The lesson and its changeover."""
        minutes = self.minutes + self.changeover_minutes
        return Period(self.starts_at, self.starts_at + timedelta(minutes=minutes))


@dataclass(frozen=True, slots=True)
class Teaches:
    """An offering and its levels, both included."""

    offering_id: int
    lowest_level: int
    highest_level: int


@dataclass(frozen=True, slots=True)
class Substitute:
    """Somebody who could cover.

    `hours` are their teaching hours. `meetings` stay with them and include their changeover; `busy`
    is time taken elsewhere; `taught` is what counts for their load beside `lessons`, for eight days
    around. `lessons` are their own that may change hands. `says_yes` and `says_no` are the lessons
    that they have agreed to take outside hours and load, or do not take.
    """

    instructor_id: int
    time_zone: str
    teaches: tuple[Teaches, ...]
    hours: tuple[Period, ...] = ()
    meetings: tuple[Period, ...] = ()
    busy: tuple[Period, ...] = ()
    taught: tuple[Period, ...] = ()
    lessons: tuple[Lesson, ...] = ()
    says_yes: tuple[int, ...] = ()
    says_no: tuple[int, ...] = ()

    def may_teach(self, lesson: Lesson) -> bool:
        return any(
            one.offering_id == lesson.offering_id
            and one.lowest_level <= lesson.level <= one.highest_level
            for one in self.teaches
        )


@dataclass(frozen=True, slots=True)
class CoverProblem:
    """The lessons to cover and who could. Refused("invalid") names the field that holds one
    twice.

    `only_plain` leaves out whatever a substitute would take only with a yes that they have not
    given.
    """

    lessons: tuple[Lesson, ...]
    substitutes: tuple[Substitute, ...]
    policy: Policy
    only_plain: bool = False

    def __post_init__(self) -> None:
        own = [lesson.id for substitute in self.substitutes for lesson in substitute.lessons]
        lessons = [*own, *(lesson.id for lesson in self.lessons)]
        if len(set(lessons)) < len(lessons):
            raise Refused("invalid", "Name each lesson once.")
        if len({one.instructor_id for one in self.substitutes}) < len(self.substitutes):
            raise Refused("invalid", "Name each substitute once.")
        for one in self.substitutes:
            times = [lesson.taught for lesson in one.lessons]
            if any(first.overlaps(second) for first, second in combinations(times, 2)):
                raise Refused("invalid", "A substitute has two lessons at once.")


class Uncovered(StrEnum):
    """Why a lesson is not covered."""

    NOT_TAUGHT = "not-taught"
    SAID_NO = "said-no"
    NOT_FREE = "not-free"
    NEEDED = "needed"

    @property
    def sentence(self) -> str:
        return _UNCOVERED[self]


_UNCOVERED = {
    Uncovered.NOT_TAUGHT: "Nobody else teaches this offering at this level.",
    Uncovered.SAID_NO: "Everybody who teaches this offering at this level has said no.",
    Uncovered.NOT_FREE: "Nobody who teaches this offering at this level is free then.",
    Uncovered.NEEDED: "Whoever could take this lesson is needed for others.",
}


@dataclass(frozen=True, slots=True)
class Handover:
    """A lesson that `instructor_id` takes.

    `makes_room_for` is a lesson that its own instructor takes meanwhile; None for one to be
    covered. `needs_yes` are codes of refusals, "outside-hours" and those of the load; none
    where the yes is given.
    """

    lesson_id: int
    instructor_id: int
    makes_room_for: int | None
    needs_yes: tuple[str, ...]
    has_met: bool


@dataclass(frozen=True, slots=True)
class Cover(Answer):
    """The answer. `stages` has what each of covered, yeses, strangers and moves came to."""

    handovers: tuple[Handover, ...]
    uncovered: tuple[tuple[int, Uncovered], ...]
