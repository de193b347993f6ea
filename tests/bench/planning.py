"""Joint decisions: a group's meetings and a term's timetable, beside one plain model of the same.

A gap is the greatest of all stages, each as |value - bound| / max(1, |value|): 0 is proven. What is
to be proven has ten minutes, so that a busy machine changes the seconds and not the gap.
"""

from bookings.domain.planning.group_plan import plan_group
from bookings.domain.planning.timetable_plan import plan_timetable
from tests.bench import plan_instances, plan_plain, timetable_instances

LONG = 600
LENGTHS, LONG_LENGTHS = (30, 30, 45, 60), (45, 60)
Figures = tuple[dict[str, float], dict[str, str]]


def figures() -> Figures:
    """Every figure of the solver of joint decisions."""
    parts = [_small_group(), _large_group(), _small_term(), _large_term(), _full_term()]
    found = {name: value for part, _ in parts for name, value in part.items()}
    return found, {name: text for _, part in parts for name, text in part.items()}


def _small_group() -> Figures:
    problem = plan_instances.parallel(60, meetings=6, places=12, seed=1)
    plan = plan_group(problem, seconds=LONG)
    plain = plan_plain.plain_group(problem, LONG)
    return {
        "plan_small_gap": plan.gap,
        "plan_small_s": plan.seconds,
        "plan_small_vs_plain": plan.seconds / plain.seconds,
    }, {
        "plan_small_gap": "60 members, 336 starts, 6 parallel meetings of 12: every stage's gap",
        "plan_small_s": "seconds until all of that was proven",
        "plan_small_vs_plain": "those seconds over one weighted model of the same problem",
    }


def _large_group() -> Figures:
    problem = plan_instances.parallel(200, meetings=20, places=12, seed=1)
    plan = plan_group(problem, seconds=30)
    return {"plan_large_gap_30s": plan.gap}, {
        "plan_large_gap_30s": "200 members, 336 starts, 20 parallel meetings of 12, after 30 s"
    }


def _small_term() -> Figures:
    problem = timetable_instances.term(40, 2, seed=1, minutes=LENGTHS)
    plan = plan_timetable(problem, seconds=LONG)
    plain = plan_plain.plain_timetable(problem, LONG)
    return {
        "timetable_40_2_gap": plan.gap,
        "timetable_40_2_s": plan.seconds,
        "timetable_40_2_vs_plain": plan.seconds / plain.seconds,
    }, {
        "timetable_40_2_gap": "40 students, 2 instructors: every stage's gap",
        "timetable_40_2_s": "seconds until all of that was proven",
        "timetable_40_2_vs_plain": "those seconds over one weighted model of the same problem",
    }


def _large_term() -> Figures:
    problem = timetable_instances.term(120, 6, seed=1, minutes=LENGTHS)
    plan = plan_timetable(problem, seconds=60)
    return {"timetable_120_6_gap": plan.gap, "timetable_120_6_s": plan.seconds}, {
        "timetable_120_6_gap": "120 students, 6 instructors, after at most 60 s",
        "timetable_120_6_s": "seconds of that",
    }


def _full_term() -> Figures:
    problem = timetable_instances.term(60, 2, seed=1, minutes=LONG_LENGTHS)
    plan = plan_timetable(problem, seconds=60)
    return {
        "timetable_60_2_gap_60s": plan.gap,
        "timetable_60_2_unplaced": len(plan.unplaced),
    }, {
        "timetable_60_2_gap_60s": "60 students, 2 instructors, more than fit, after at most 60 s",
        "timetable_60_2_unplaced": "how many of them have no place",
    }
