"""What `make bench` makes of its figures: ratios and counts are judged, times are only told."""

from tests.bench import goals


def test_a_missed_ratio_is_told_with_its_number() -> None:
    """Both kinds of bound; what just reaches its goal passes."""
    figures = {
        "slot_api_vs_bare_fetch": 2.01,
        "booking_growth": 1.1,
        "booking_vs_pgbench": 0.34,
        "slot_core_vs_portion": 22.0,
    }
    assert goals.missed(figures) == [
        "slot_api_vs_bare_fetch is 2.01 and must be at most 2",
        "booking_vs_pgbench is 0.34 and must be at least 0.35",
    ]


def test_a_time_fails_nobody() -> None:
    """A time is told beside what it is on an idle machine."""
    assert goals.missed({"slot_find_ms": 9000.0, "slot_core_cold_ms": 9.0}) == []
    assert goals.wanted("slot_find_ms") == "<= 150"


def test_what_was_not_measured_is_not_missed() -> None:
    """Without PostgreSQL there is no figure beside pgbench."""
    assert goals.missed({}) == []
