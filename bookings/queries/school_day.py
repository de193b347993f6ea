"""The day of all instructors, for admins: who teaches whom, and when."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from accounts.models import Instructor, User
from bookings.access import name_for, require_admin
from bookings.domain.local_days import day_period
from bookings.domain.vocabulary import Standing
from bookings.models import Booking, Meeting
from bookings.queries.held_time import REACH
from bookings.queries.rosters import with_people


@dataclass(frozen=True, slots=True)
class MeetingOfDay:
    """One meeting of the day. `called` is the student of a one-on-one, else what the group is
    called; `held` counts the places that are held, and `unmarked` those without a mark.
    """

    meeting: Meeting
    called: str
    held: int
    unmarked: int


@dataclass(frozen=True, slots=True)
class InstructorDay:
    """One instructor's meetings that touch the day, by start. A meeting across midnight counts for
    both days.
    """

    instructor: Instructor
    meetings: Sequence[MeetingOfDay]

    def has_ahead(self, now: datetime) -> bool:
        """Whether a meeting of the day has still to begin."""
        return any(row.meeting.starts_at > now for row in self.meetings)


def school_day(reader: User, on: date, *, now: datetime) -> list[InstructorDay]:
    """That date on the admin's clock, by instructor: two queries. Whoever does not teach on it is
    left out.

    Refused("not-allowed") for anybody but an admin.
    """
    require_admin(reader)
    period = day_period(on, reader.zone)
    rows = Meeting.objects.not_called_off().ending_after(period.starts_at)
    rows = rows.filter(starts_at__gt=period.starts_at - REACH, starts_at__lt=period.ends_at)
    ordered = with_people(rows).order_by("instructor__user__name", "instructor", "starts_at", "pk")
    found: dict[int, list[MeetingOfDay]] = {}
    for meeting in ordered:
        found.setdefault(meeting.instructor_id, []).append(_of_day(meeting, reader, now))
    return [InstructorDay(rows[0].meeting.instructor, rows) for rows in found.values()]


def _of_day(meeting: Meeting, reader: User, now: datetime) -> MeetingOfDay:
    live: list[Booking] = meeting.live  # type: ignore[attr-defined]  # with_people
    held = [one for one in live if one.standing == Standing.HELD]
    called = meeting.title or meeting.offering.name
    if meeting.offering.is_one_on_one and held:
        called = name_for(reader, held[0].student, now)
    return MeetingOfDay(meeting, called, len(held), sum(not hasattr(one, "mark") for one in held))
