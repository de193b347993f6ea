"""The next date: starts that an instructor may offer a student around a day."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from bookings.domain.errors import Refused
from bookings.domain.notes import AROUND
from bookings.domain.proposed_times import MOST_TIMES, proposal_answer_by, without_lead
from bookings.domain.slots import Slot
from bookings.domain.start_costs import Listing
from bookings.domain.timeline import EPOCH
from bookings.domain.vocabulary import Night
from bookings.domain.wall import day_edges
from bookings.domain.zones import zone
from bookings.models import Booking, Meeting
from bookings.queries.policies import policy_in_force
from bookings.queries.slots import slots_for

_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class NextDates:
    """Up to three starts around the day `on` of the student's clock, in order.

    `answer_by` is until when the student could choose, were they all proposed now; None where they
    are too near for that.
    """

    on: date
    slots: list[Slot]
    answer_by: datetime | None


def next_dates(booking: Booking, on: date, *, now: datetime) -> NextDates:
    """Up to three starts with the same instructor in the same offering, at most 3 days from `on`.

    On each day the one nearest to the time of day of this booking counts. Four queries; whether the
    instructor still teaches this is judged when one is booked.
    """
    student, meeting = booking.student, booking.meeting
    since, until = days_around(on, student.zone)
    if until <= now:
        return NextDates(on, [], None)
    found = slots_for(
        offering=meeting.offering,
        student=student,
        instructor_id=meeting.instructor_id,
        since=since,
        until=until,
        people=[meeting.instructor],
        by_school=True,
        policy=without_lead(policy_in_force(now).rules()),
        listing=Listing(Night.LAST, is_for_instructor=True),
        now=now,
    )
    slots = _spread(found.slots, meeting, on)
    starts = [slot.starts_at for slot in slots]
    try:
        answer_by = proposal_answer_by(now, starts, student.zone) if starts else None
    except Refused:
        answer_by = None
    return NextDates(on, slots, answer_by)


def _spread(slots: Sequence[Slot], meeting: Meeting, on: date) -> list[Slot]:
    """At most three, on the days nearest to `on`: other days before other hours of one day."""
    clock = zone(str(meeting.time_zone))
    days: dict[date, list[Slot]] = defaultdict(list)
    for slot in slots:
        days[slot.starts_at.astimezone(clock).date()].append(slot)
    ranked = []
    for day, found in days.items():
        wanted = same_time(meeting, day)
        found.sort(key=lambda slot: abs(slot.starts_at - wanted))
        ranked += [(turn, abs(day - on), slot.starts_at, slot) for turn, slot in enumerate(found)]
    nearest = sorted(ranked, key=lambda row: row[:3])[:MOST_TIMES]
    return sorted((row[3] for row in nearest), key=lambda slot: slot.starts_at)


def same_time(meeting: Meeting, on: date) -> datetime:
    """The instant, in UTC, of that date at the meeting's time of day."""
    wall = datetime.combine(on, meeting.wall_at, zone(str(meeting.time_zone)))
    return wall.astimezone(UTC)


def days_around(on: date, time_zone: str) -> tuple[datetime, datetime]:
    """The first instant of the days around this one on that clock, and the first after them."""
    first, past = on - AROUND - EPOCH.date(), on + AROUND + _DAY - EPOCH.date()
    edges = day_edges(time_zone, first.days, past.days)
    return EPOCH + timedelta(seconds=edges[0]), EPOCH + timedelta(seconds=edges[-1])
