"""Groups of one sort for the tests of planning."""

from datetime import UTC, datetime, timedelta

from bookings.domain.planning.group import GroupProblem, Member, Start


def plain(count: int, starts: int, cost: int | None = 0, **other) -> GroupProblem:
    """So many members who pay the same at so many daily starts."""
    first = datetime(2027, 2, 1, 12, tzinfo=UTC)
    daily = tuple(
        Start(first + timedelta(days=day), 1, (first + timedelta(days=day)).date())
        for day in range(starts)
    )
    members = tuple(Member(number, (cost,) * starts) for number in range(count))
    return GroupProblem(members, daily, minutes=60, **{"places": 12, **other})
