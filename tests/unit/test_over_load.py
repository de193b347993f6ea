"""How many meetings that are booked an instructor's load would not allow."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from bookings.domain.over_load import over_load
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period

MONDAY = datetime(2027, 3, 1, 9, tzinfo=UTC)


def hours(*starts: int) -> list[Period]:
    """An hour's meeting at so many hours after Monday, nine o'clock."""
    begins = [MONDAY + timedelta(hours=start) for start in starts]
    return [Period(at, at + timedelta(hours=1)) for at in begins]


def count(taught: list[Period], **rules: int) -> int:
    judged = {period.starts_at for period in taught}
    return over_load(taught, judged, "Europe/Dublin", replace(Policy(), **rules))


def test_the_last_of_a_day_is_the_one_too_many() -> None:
    """Three hours apart from each other; two hours a day are allowed."""
    assert count(hours(0, 2, 4)) == 0
    assert count(hours(0, 2, 4), day_minutes=120) == 1
    assert count(hours(0, 2, 24, 26), day_minutes=120) == 0


def test_a_row_a_week_and_a_night_are_judged_too() -> None:
    """Each limit alone."""
    assert count(hours(0, 1), run_minutes=60) == 1
    assert count(hours(0, 24, 48), week_minutes=120) == 1
    assert count(hours(10, 24), night_rest_minutes=14 * 60) == 1


def test_only_the_judged_meetings_count() -> None:
    """What is over or waived only stands beside them."""
    taught = hours(0, 2, 4)
    few = over_load(
        taught, {taught[0].starts_at}, "Europe/Dublin", replace(Policy(), day_minutes=60)
    )
    assert few == 0
