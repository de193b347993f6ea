"""What each figure should be: ratios and counts are judged, times are told beside the calibration
of the run.

A machine may be twice as slow an hour later, so a time says little; two times of one run say what
one costs beside the other.
"""

from collections.abc import Mapping

AT_MOST = {
    "slot_find_vs_rows": 10,
    "slot_api_queries": 8,
    "slot_api_vs_bare_fetch": 2,
    "slot_growth": 1.1,
    "times_page_vs_api": 2,
    "times_page_queries": 12,
    "times_page_kb": 150,
    "booking_queries": 14,
    "booking_growth": 1.1,
    "feed_body_vs_icalendar": 1.5,
    "feed_304_queries": 2,
    "plan_small_gap": 0,
    "plan_small_vs_plain": 1,
    "plan_large_gap_30s": 0.01,
    "timetable_40_2_gap": 0,
    "timetable_40_2_vs_plain": 3,
    "timetable_120_6_gap": 0.001,
    "timetable_60_2_gap_60s": 0.015,
}
AT_LEAST = {"slot_core_vs_portion": 22, "capacity_vs_enumeration": 50, "booking_vs_pgbench": 0.35}
TOLD = {
    "slot_core_masks_us": "<= 15",
    "slot_core_cold_ms": "<= 1.2",
    "slot_find_ms": "<= 150",
    "plan_small_s": "<= 10",
    "cover_ms": "<= 500",
    "who_next_ms": "<= 1000",
}
"""Times on an idle machine: nobody fails by them."""


def wanted(name: str) -> str:
    """What the table says is wanted of a figure."""
    if name in AT_MOST:
        return f"<= {AT_MOST[name]:g}"
    return f">= {AT_LEAST[name]:g}" if name in AT_LEAST else TOLD.get(name, "")


def missed(figures: Mapping[str, float]) -> list[str]:
    """The goals that these figures miss, in sentences; a figure that could not be measured misses
    none.
    """
    return [
        f"{name} is {figures[name]:g} and must be {bound} {goal:g}"
        for bound, goals, sign in (("at most", AT_MOST, 1), ("at least", AT_LEAST, -1))
        for name, goal in goals.items()
        if name in figures and sign * figures[name] > sign * goal
    ]
