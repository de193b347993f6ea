"""The answer to when a group should meet, with the people whom it names."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from accounts.models import Instructor, Student
from bookings.domain.burden import HARD
from bookings.models import Offering, Plan
from bookings.queries.teaching import zone_of_hours


@dataclass(frozen=True, slots=True)
class Paid:
    """A member at a meeting: their clock, and what its hour costs them (0-20)."""

    student: Student
    burden: int


@dataclass(frozen=True, slots=True)
class GroupMeeting:
    """One meeting of the plan. `paid` are its members by zone and name."""

    starts_at: datetime
    instructor: Instructor
    time_zone: str
    paid: Sequence[Paid]

    @property
    def greatest(self) -> int:
        return max((one.burden for one in self.paid), default=0)

    @property
    def who_pays(self) -> list[tuple[str, int]]:
        """Each zone whose members pay something, with what they pay."""
        most: dict[str, int] = defaultdict(int)
        for one in self.paid:
            most[one.student.zone] = max(most[one.student.zone], one.burden)
        return [(name, burden) for name, burden in sorted(most.items()) if burden]


@dataclass(frozen=True, slots=True)
class Member:
    """What a student pays in all, and carries before and after."""

    student: Student
    starts: Sequence[datetime]
    carried: int
    added: int

    @property
    def carried_after(self) -> int:
        return self.carried + self.added


@dataclass(frozen=True, slots=True)
class ShownGroup:
    """The answer. `day` are the candidate starts of the first meeting's day, each with the
    greatest burden of a member, None where not all can come.
    """

    offering: Offering
    meetings: Sequence[GroupMeeting]
    members: Sequence[Member]
    unplaced: Sequence[tuple[Student, str]]
    zones: Sequence[str]
    day: Mapping[datetime, int]
    split: "ShownGroup | None" = None

    @property
    def greatest(self) -> int:
        return max((meeting.greatest for meeting in self.meetings), default=0)

    @property
    def other_zone(self) -> str | None:
        """A member's clock that is not the instructor's of the first meeting."""
        own = self.meetings[0].time_zone if self.meetings else ""
        return next((name for name in self.zones if name != own), None)

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing in it to adopt."""
        return not self.meetings

    @property
    def verdict(self) -> str:
        """The answer in one sentence."""
        if not self.meetings:
            return "No time was found"
        if self.unplaced:
            placed = len(self.members)
            come = f"{placed} of {placed + len(self.unplaced)} can come"
        else:
            come = "Everybody can come"
        if self.greatest >= HARD:
            return f"{come}, but there is no humane time for all"
        pays = f"nobody pays more than {self.greatest} a meeting" if self.greatest else ""
        return f"{come}, and {pays or 'it is an easy hour for all'}"


def shown_group(plan: Plan) -> ShownGroup:
    """A group plan's answer: three queries."""
    answer: dict[str, Any] = plan.answer or {}
    instructors = Instructor.objects.select_related("user", "week").in_bulk(
        plan.asked["instructors"]
    )
    students = Student.objects.select_related("user").in_bulk(plan.asked["students"])
    offering = Offering.objects.get(pk=plan.asked["offering"])
    split = answer.get("split")
    return _shown(
        answer,
        offering,
        instructors,
        students,
        _shown(split, offering, instructors, students) if split else None,
    )


def _shown(
    answer: Mapping[str, Any],
    offering: Offering,
    instructors: Mapping[int, Instructor],
    students: Mapping[int, Student],
    split: ShownGroup | None = None,
) -> ShownGroup:
    starts: dict[int, list[datetime]] = defaultdict(list)
    meetings = []
    for row in answer["meetings"]:
        starts_at, instructor = datetime.fromisoformat(row["starts_at"]), row["instructor"]
        paid = [Paid(students[int(pk)], burden) for pk, burden in row["burdens"].items()]
        for one in paid:
            starts[one.student.pk].append(starts_at)
        paid.sort(key=lambda one: (one.student.zone, one.student.full_name))
        teacher = instructors[instructor]
        meetings.append(GroupMeeting(starts_at, teacher, zone_of_hours(teacher), paid))
    members = [
        Member(students[row["student"]], starts[row["student"]], row["carried"], row["added"])
        for row in answer["members"]
    ]
    return ShownGroup(
        offering=offering,
        meetings=meetings,
        members=members,
        unplaced=[(students[row["student"]], row["why"]) for row in answer["unplaced"]],
        zones=sorted({one.student.zone for one in members}),
        day={datetime.fromisoformat(at): burden for at, burden in answer.get("day", {}).items()},
        split=split,
    )
