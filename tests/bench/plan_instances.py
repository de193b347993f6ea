"""Groups of invented members, each from a fixed seed: zones, hours they can come, burdens."""

import random
from datetime import UTC, datetime, timedelta

from bookings.domain.burden import burden
from bookings.domain.planning.group import Form, GroupProblem, Member, Start
from bookings.domain.timeline import Period
from bookings.domain.zones import zone

ZONES = (
    "Europe/Dublin",
    "America/New_York",
    "America/Los_Angeles",
    "America/Sao_Paulo",
    "Africa/Lagos",
    "Africa/Johannesburg",
    "Europe/Athens",
    "Asia/Dubai",
    "Asia/Kolkata",
    "Asia/Singapore",
    "Asia/Tokyo",
    "Australia/Sydney",
)
FIRST = datetime(2027, 2, 1, 7, tzinfo=UTC)
DAYS, A_DAY, MINUTES = 14, 24, 60
ONLY_IF_NOTHING_ELSE = 8


def starts() -> tuple[Start, ...]:
    """336 starts: every half hour from 07:00Z for twelve hours, a fortnight, by two instructors on
    alternate days.
    """
    found = []
    for day in range(DAYS):
        for half in range(A_DAY):
            at = FIRST + timedelta(days=day, minutes=30 * half)
            found.append(Start(at, 1 + day % 2, at.date()))
    return tuple(found)


def member(number: int, candidates: tuple[Start, ...], source: random.Random) -> Member:
    """Somebody of a random zone who can come on four to seven weekdays, six to twelve hours a day,
    one day perhaps only if nothing else.
    """
    time_zone = source.choice(ZONES)
    hours: dict[int, tuple[int, int]] = {}
    for weekday in source.sample(range(7), source.randint(4, 7)):
        opens = source.randint(7, 13)
        hours[weekday] = (opens, min(opens + source.randint(6, 12), 23))
    dear = {source.randrange(7) for _ in range(source.randint(0, 1))}
    costs = tuple(_cost(start, time_zone, hours, dear) for start in candidates)
    return Member(number, costs, carried=source.choice((0, 0, 0, 1, 2, 3)))


def _cost(
    start: Start, time_zone: str, hours: dict[int, tuple[int, int]], dear: set[int]
) -> int | None:
    period = Period(start.starts_at, start.starts_at + timedelta(minutes=MINUTES))
    local = start.starts_at.astimezone(zone(time_zone))
    begins = local.hour * 60 + local.minute
    opens, closes = hours.get(local.weekday(), (0, 0))
    if not (opens * 60 <= begins and begins + MINUTES <= closes * 60):
        return None
    least = ONLY_IF_NOTHING_ELSE if local.weekday() in dear else 0
    return max(least, burden(period, time_zone))


def parallel(members: int, meetings: int, places: int, seed: int) -> GroupProblem:
    """A problem of parallel meetings over the fortnight."""
    source, candidates = random.Random(seed), starts()
    return GroupProblem(
        tuple(member(number, candidates, source) for number in range(members)),
        candidates,
        MINUTES,
        places,
        meetings,
        Form.PARALLEL,
    )
