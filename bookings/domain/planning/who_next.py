"""Who next: students due a review, each given one free start of one instructor.

The proposals are held together, so no two overlap, changeovers included, and all of them keep the
instructor's load beside what is taught already.

The order of what counts, each among the plans that are best in everything before it:

1. reached: most students are proposed a time;
2. unseen: most days, in sum, since those were seen;
3. burden: least sum of what the hours cost them.

Exact, as a model in whole numbers (`who_next_plan` has its mathematics).
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from bookings.domain.errors import Refused
from bookings.domain.planning.model import Answer
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period, in_utc

MOST_DAYS = 3650
"""What a student counts who had no lesson yet; nobody counts more."""
OTHERS = 2
"""How many more times are named beside a proposal, and not held."""


@dataclass(frozen=True, slots=True)
class FreeStart:
    """A start that could be booked by itself, and its burden for that student."""

    starts_at: datetime
    burden: int

    def __post_init__(self) -> None:
        object.__setattr__(self, "starts_at", in_utc(self.starts_at))


@dataclass(frozen=True, slots=True)
class DueStudent:
    """`unseen_days` is None where there was no lesson yet. Lengths are in minutes."""

    student_id: int
    unseen_days: int | None
    minutes: int
    changeover_minutes: int
    starts: tuple[FreeStart, ...]

    @property
    def weight(self) -> int:
        """The days that count."""
        if self.unseen_days is None:
            return MOST_DAYS
        return min(max(self.unseen_days, 0), MOST_DAYS)

    def taught(self, start: FreeStart) -> Period:
        return Period(start.starts_at, start.starts_at + timedelta(minutes=self.minutes))

    def held(self, start: FreeStart) -> Period:
        """The lesson and its changeover."""
        minutes = self.minutes + self.changeover_minutes
        return Period(start.starts_at, start.starts_at + timedelta(minutes=minutes))


@dataclass(frozen=True, slots=True)
class WhoNextProblem:
    """One instructor's due students. `taught` are the meetings that count for the load, for eight
    days around the starts; the starts keep clear of them. Refused("invalid") for a student twice,
    and for one who has a start twice.
    """

    students: tuple[DueStudent, ...]
    taught: tuple[Period, ...]
    time_zone: str
    policy: Policy

    def __post_init__(self) -> None:
        if len({student.student_id for student in self.students}) < len(self.students):
            raise Refused("invalid", "Name each student once.", field="students")
        for student in self.students:
            if len({start.starts_at for start in student.starts}) < len(student.starts):
                raise Refused("invalid", "Name each start once.", field="starts")


class Unreached(StrEnum):
    """Why a student is proposed no time."""

    NO_TIME = "no-time"
    NEEDED = "needed"

    @property
    def sentence(self) -> str:
        """The reason for the instructor and for admins. It names no hours of the student."""
        return _UNREACHED[self]


_UNREACHED = {
    Unreached.NO_TIME: "No free time suits this student.",
    Unreached.NEEDED: "The times that suit this student are proposed to others, or would be more "
    "than the load allows.",
}


@dataclass(frozen=True, slots=True)
class Proposal:
    """A time to be held for a student. `others` are up to two more, by burden and then by time,
    each good in place of the first; other students may be named the same ones.
    """

    student_id: int
    start: FreeStart
    others: tuple[FreeStart, ...]


@dataclass(frozen=True, slots=True)
class WhoNext(Answer):
    """The answer, the proposals by time. `stages` has what each of reached, unseen and burden came
    to.
    """

    proposals: tuple[Proposal, ...]
    unreached: tuple[tuple[int, Unreached], ...]
