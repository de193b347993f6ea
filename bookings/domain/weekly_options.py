"""Which weekly times a term offers, ranked; alone, or beside a sibling's."""

from collections.abc import Sequence
from datetime import datetime

from bookings.domain.policy import Policy
from bookings.domain.slots import InstructorTime, OfferingRules, StudentTime
from bookings.domain.weekly import WeeklyOption, WeeklyRequest, ends_at_minute
from bookings.domain.weekly_search import WeeklySearch, follows


def weekly_options(
    request: WeeklyRequest,
    instructors: Sequence[InstructorTime],
    student: StudentTime,
    policy: Policy,
    now: datetime,
) -> list[WeeklyOption]:
    """Every weekly time of the offering's grid that holds at least one date.

    A time with a lesson at an hour marked “never” is left out. The best comes first: ranked by most
    dates held, least greatest burden, least sum of burdens, earliest first meeting, instructor's
    id.
    """
    search = WeeklySearch(request, instructors, student, policy, now)
    return [search.option(one) for one in search.ranked]


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
            and follows(second.at, after, second_offering.step_minutes)
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
