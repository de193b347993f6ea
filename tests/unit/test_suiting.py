"""One slot for each start, the few that suit best, and what tells those apart."""

from datetime import UTC, datetime, timedelta
from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.slots import Slot
from bookings.domain.suiting import Part, best, in_common, one_a_start, part_of, told_apart

DUBLIN = "Europe/Dublin"
MONDAY = datetime(2027, 3, 1, tzinfo=UTC)  # Dublin is on UTC in that week
EASY = "An easy hour of the day."


def slot(
    day: int, hour: int, fit: int = 90, instructor: int = 1, burden: int = 0, *reasons: str
) -> Slot:
    starts_at = MONDAY + timedelta(days=day, hours=hour)
    ends_at = starts_at + timedelta(minutes=25)
    return Slot(starts_at, ends_at, instructor, burden, fit, reasons or (EASY,))


SLOTS = st.lists(
    st.builds(
        slot,
        day=st.integers(0, 6),
        hour=st.integers(0, 23),
        fit=st.integers(0, 100),
        instructor=st.integers(1, 4),
    ),
    max_size=30,
    unique_by=lambda one: (one.starts_at, one.instructor_id),
)


def test_one_row_a_start_keeps_the_best_fit_and_counts_the_others() -> None:
    """Three instructors at nine: the one who fits best stands for the start, with two others."""
    rows = one_a_start([slot(0, 9, 70, 1), slot(0, 9, 90, 2), slot(0, 9, 90, 3), slot(0, 8, 10, 1)])
    assert [(row.instructor_id, others) for row, others in rows] == [(1, 0), (2, 2)]


def test_the_best_are_on_different_days_or_parts_of_a_day() -> None:
    """Three hours of one morning are no choice: another part of the day comes next."""
    morning = [slot(0, hour, fit) for hour, fit in ((9, 99), (10, 98), (11, 97))]
    evening = slot(0, 18, 60)
    assert best([*morning, evening], DUBLIN) == [morning[0], evening]


def test_another_day_goes_before_another_part_of_the_day() -> None:
    """Tuesday at 85 goes before Monday afternoon at 95, within 15 points of the best."""
    chosen = best([slot(0, 9, 99), slot(0, 14, 95), slot(1, 9, 85)], DUBLIN)
    assert [(one.fit) for one in chosen] == [99, 85, 95]


def test_a_hard_hour_is_no_best_where_a_humane_one_is_free() -> None:
    """05:00 at burden 20 fits better by its other factors, and is left out until nothing else is
    free.
    """
    night, day = slot(0, 5, 95, 1, 20), slot(3, 12, 40)
    assert best([night, day], DUBLIN) == [day]
    assert best([night], DUBLIN) == [night]


@given(SLOTS)
def test_no_two_of_the_best_are_in_one_part_of_one_day(slots: list[Slot]) -> None:
    """Whatever is free; and something is chosen wherever something is free."""
    chosen = best(slots, DUBLIN)
    parts = [(one.starts_at.date(), part_of(one.starts_at, DUBLIN)) for one in chosen]
    assert len(set(parts)) == len(parts) <= 3
    assert bool(chosen) == bool(slots)


@given(SLOTS)
def test_each_of_the_best_says_what_the_others_do_not(slots: list[Slot]) -> None:
    """The first sentence of each is true of no other; what all share stands with none of them."""
    chosen = best(slots, DUBLIN)
    told = told_apart(chosen, DUBLIN)
    if len(chosen) > 1:
        assert all(one[0] != other[0] for one, other in combinations(told, 2))
        assert not set(in_common(chosen)) & {reason for one in told for reason in one}


def test_what_all_share_is_said_once() -> None:
    """Two easy hours, one with the instructor of the latest assessment: only that is said apart."""
    heard = "With the instructor of the latest assessment."
    one, two = slot(0, 9, 90, 1, 0, EASY, heard), slot(1, 14, 70, 2, 0, EASY)
    assert in_common([one, two]) == (EASY,)
    assert told_apart([one, two], DUBLIN) == [
        ("The soonest of the two.", heard),
        ("The only one of the two in the afternoon.",),
    ]
    assert told_apart([one], DUBLIN) == [(EASY, heard)]


def test_the_parts_of_a_day_meet_at_noon_and_at_five() -> None:
    """11:00 is the morning, 12:00 the afternoon, 17:00 the evening."""
    parts = [part_of(MONDAY + timedelta(hours=hour), DUBLIN) for hour in (11, 12, 16, 17)]
    assert parts == [Part.MORNING, Part.AFTERNOON, Part.AFTERNOON, Part.EVENING]
