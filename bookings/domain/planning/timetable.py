"""The timetable of a term: which weekly place each student has, decided for all together.

A place is an instructor and a minute of that instructor's own week. Over the term's dates a place
costs a student the greatest burden of any date, with the changes of both clocks; the caller knows
the dates and gives that number. What counts, each among the tables that are best in everything
before it:

1. placed: most students have a place.
2. changed: fewest of those who had a place before lose it.
3. regular: most are with their regular instructor.
4. siblings: most pairs of one family follow each other: with one instructor, on one day, the second
   at the first start that is free after the first's lesson and changeover.
5. greatest: least maximum of the burdens.
6. sum: least sum of the burdens.
7. capacity: fewest clock hours of the instructors' weeks are touched by a lesson or its changeover,
   so that most whole hours stay for others.

A burden of `HARD` or more is a place only for a student whose family has consented to it. Places
that an admin has fixed stay. The mathematics stand in `timetable_model`.
"""

from collections import defaultdict
from dataclasses import dataclass
from enum import StrEnum

from bookings.domain.errors import Refused
from bookings.domain.hours import DAY_MINUTES
from bookings.domain.planning.model import Answer
from bookings.domain.timeline import CELL_MINUTES


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """An instructor and a minute of their week, 0-10079 from Monday 00:00 on their clock."""

    instructor_id: int
    minute: int

    @property
    def weekday(self) -> int:
        return self.minute // DAY_MINUTES


@dataclass(frozen=True, slots=True)
class Wish:
    """A place that is possible for a student on every date, and its greatest burden, 0-20."""

    place: Place
    burden: int


@dataclass(frozen=True, slots=True)
class TermStudent:
    """A student to be placed. `wishes` are with allowed instructors only.

    `previous` is the place of the last term, `fixed` one that an admin has decided; siblings share
    a `family`.
    """

    id: int
    minutes: int
    wishes: tuple[Wish, ...]
    regular: int | None = None
    previous: Place | None = None
    family: int | None = None
    has_consent: bool = False
    fixed: Place | None = None


@dataclass(frozen=True, slots=True)
class TermInstructor:
    """An instructor: the starts of their week, and their load in minutes (None: no limit).

    A run is taught without a pause of `run_gap` minutes. What they teach beside the timetable is
    taken off by the caller: its starts are left out and its minutes lower the limits.
    """

    id: int
    starts: tuple[int, ...]
    changeover: int = 0
    run_minutes: int | None = None
    run_gap: int = 15
    day_minutes: int | None = None
    week_minutes: int | None = None

    def held(self, minutes: int) -> int:
        """How long a lesson and its changeover keep the time taken, in whole cells."""
        return -(-(minutes + self.changeover) // CELL_MINUTES) * CELL_MINUTES


@dataclass(frozen=True, slots=True)
class TimetableProblem:
    """Students and instructors. Refused("invalid") names the field."""

    students: tuple[TermStudent, ...]
    instructors: tuple[TermInstructor, ...]

    def __post_init__(self) -> None:
        if not self.students:
            raise Refused("invalid", "Choose at least one student.", field="students")
        if len({student.id for student in self.students}) < len(self.students):
            raise Refused("invalid", "Name each student once.", field="students")
        if any(student.minutes < 1 for student in self.students):
            raise Refused("invalid", "Choose a length of at least one minute.", field="minutes")
        if any(minute % CELL_MINUTES for one in self.instructors for minute in one.starts):
            raise Refused("invalid", "Choose starts on the five minutes.", field="starts")
        starts = {
            (instructor.id, minute)
            for instructor in self.instructors
            for minute in instructor.starts
        }
        for student in self.students:
            places = [wish.place for wish in student.wishes]
            if len(set(places)) < len(places):
                raise Refused("invalid", "Name each place of a student once.", field="places")
            if any((place.instructor_id, place.minute) not in starts for place in places):
                raise Refused("invalid", "Choose places among the starts.", field="places")
            if student.fixed is not None and student.fixed not in places:
                raise Refused(
                    "invalid", "Fix places that are possible for the student.", field="fixed"
                )

    def families(self) -> dict[int, list[TermStudent]]:
        """The students of each family that has more than one."""
        found: dict[int, list[TermStudent]] = defaultdict(list)
        for student in self.students:
            if student.family is not None:
                found[student.family].append(student)
        return {family: people for family, people in found.items() if len(people) > 1}


class Lack(StrEnum):
    """Why a student has no place."""

    NO_HOURS = "no-hours"
    """No place is possible for them at all."""
    CONSENT = "consent"
    """Every place that is possible is dear, and their family has not consented to such hours."""
    TAKEN = "taken"
    """Their places are needed for others, or the instructor's load is full."""


class Need(StrEnum):
    """What has to give so that a student gets a place."""

    CONSENT = "consent"
    """Their own family accepts a dear hour."""
    LOAD = "load"
    """An instructor teaches more than their load allows."""
    OTHER_CONSENT = "other-consent"
    """Another family accepts a dear hour."""
    OTHER_LEAVES = "other-leaves"
    """Others lose their places: without that no change would do."""


@dataclass(frozen=True, slots=True)
class Change:
    """The cheapest change found that gives a student this place.

    `needs` is empty where the table was not proven and had room after all. `moves` are the others
    in the way and where they go; None is nowhere.
    """

    needs: tuple[Need, ...]
    place: Place
    burden: int
    moves: tuple[tuple[int, Place | None], ...] = ()


@dataclass(frozen=True, slots=True)
class Unplaced:
    """A student without a place; `change` is None where they have no hours at all."""

    student: int
    lack: Lack
    change: Change | None


@dataclass(frozen=True, slots=True)
class Placed:
    """A student's weekly place and its greatest burden."""

    student: int
    place: Place
    burden: int


@dataclass(frozen=True, slots=True)
class Timetable(Answer):
    """The answer; `stages` are those of the module's list, in its order."""

    placed: tuple[Placed, ...]
    unplaced: tuple[Unplaced, ...]
