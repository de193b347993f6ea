"""Which weekly times a term offers, ranked; alone, or beside a sibling's."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

from bookings.domain.policy import Policy
from bookings.domain.slots import (
    InstructorTime,
    OfferingRules,
    SlotRequest,
    StudentTime,
    find_slots,
)
from bookings.domain.start_costs import USUAL, Listing
from bookings.domain.weekly import (
    WeeklyOption,
    WeeklyRequest,
    WeeklyTime,
    ends_at_minute,
    judge_weekly,
    term_policy,
)
from bookings.domain.weekly_costs import NEVER
from bookings.domain.zones import zone

# Zones reach from -12 to +14 hours, so a local date begins and ends within two days of UTC
# midnight.
_PAD = timedelta(days=2)


def weekly_options(
    request: WeeklyRequest,
    instructors: Sequence[InstructorTime],
    student: StudentTime,
    policy: Policy,
    now: datetime,
    limit: int | None = None,
    *,
    with_reasons: bool = True,
) -> list[WeeklyOption]:
    """Every weekly time of the offering's grid that holds at least one date.

    Without reasons, no failed date says why it failed: for a list that shows only how many there
    are, a tenth of the work.

    The best comes first; at most `limit`. A time with a lesson at an hour marked “never” is left
    out.

    Ranked by most dates held, least greatest burden, least sum of burdens, earliest first meeting,
    instructor's id.
    """
    options = [
        option
        for instructor in instructors
        for option in _options_with(
            request, instructor, student, policy, now, with_reasons=with_reasons
        )
        if option.held and option.greatest_burden < NEVER
    ]
    options.sort(key=_rank)
    return options[:limit]


def _rank(option: WeeklyOption) -> tuple[int, int, int, datetime, int]:
    return (
        -len(option.held),
        option.greatest_burden,
        option.sum_of_burdens,
        option.held[0].starts_at,
        option.instructor_id,
    )


def _options_with(
    request: WeeklyRequest,
    instructor: InstructorTime,
    student: StudentTime,
    policy: Policy,
    now: datetime,
    *,
    with_reasons: bool,
) -> list[WeeklyOption]:
    at_any_hour = replace(request, earliest=None, latest=None)
    known = _starts(at_any_hour, instructor, student, policy)
    walls = (start.astimezone(zone(instructor.time_zone)) for start in known)
    times = {
        WeeklyTime(wall.weekday(), wall.hour * 60 + wall.minute) for wall in walls if not wall.fold
    }
    if request.after is not None:
        times = {at for at in times if _follows(at, request.after, request.offering.step_minutes)}
    if not with_reasons:
        known = _starts(at_any_hour, instructor, student, policy, Listing(with_never=True))
    options = [
        judge_weekly(
            request, at, instructor, student, policy, now, known=known, with_reasons=with_reasons
        )
        for at in times
    ]
    if request.earliest is None and request.latest is None:
        return options
    wanted = _starts(request, instructor, student, policy)
    return [option for option in options if all(day.starts_at in wanted for day in option.held)]


def _starts(
    request: WeeklyRequest,
    instructor: InstructorTime,
    student: StudentTime,
    policy: Policy,
    listing: Listing = USUAL,
) -> frozenset[datetime]:
    since = datetime.combine(request.term.first_on, time(), UTC) - _PAD
    until = datetime.combine(request.term.last_on, time(), UTC) + _PAD
    asked = SlotRequest(
        request.offering,
        since,
        until,
        request.earliest,
        request.latest,
        listing=listing,
        every=True,
    )
    return frozenset(
        slot.starts_at
        for slot in find_slots(asked, [instructor], student, term_policy(policy), since)
    )


def pairs(
    firsts: Sequence[WeeklyOption],
    seconds: Sequence[WeeklyOption],
    first_offering: OfferingRules,
    second_offering: OfferingRules,
) -> list[tuple[WeeklyOption, WeeklyOption]]:
    """Two siblings one after the other with one instructor.

    Each first time stands with the start that follows it on the grid.

    Each pair is ranked as one: dates held by both, the greater of their burdens, the sum of all,
    the earliest first meeting.
    """
    found = []
    for first in firsts:
        after = ends_at_minute(first.at, first_offering)
        following = [
            second
            for second in seconds
            if second.instructor_id == first.instructor_id
            and _follows(second.at, after, second_offering.step_minutes)
        ]
        if following:
            found.append((first, min(following, key=lambda second: second.at.minute)))
    return sorted(found, key=_rank_of_pair)


def _rank_of_pair(pair: tuple[WeeklyOption, WeeklyOption]) -> tuple[int, int, int, datetime, int]:
    first = pair[0]
    return (
        -sum(len(option.held) for option in pair),
        max(option.greatest_burden for option in pair),
        sum(option.sum_of_burdens for option in pair),
        first.held[0].starts_at,
        first.instructor_id,
    )


def _follows(at: WeeklyTime, after: WeeklyTime, step_minutes: int) -> bool:
    """Whether `at` is the first start of a grid of that step at or after `after`, on the same
    day.
    """
    return at.weekday == after.weekday and after.minute <= at.minute < after.minute + step_minutes
