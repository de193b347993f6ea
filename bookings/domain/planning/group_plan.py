"""Solves a group's problem: the plan, its proof, and a split where no humane time exists."""

from collections.abc import Iterable
from dataclasses import replace
from math import inf

from bookings.domain.burden import HARD
from bookings.domain.errors import Refused
from bookings.domain.planning.group import (
    Band,
    Form,
    GroupPlan,
    GroupProblem,
    Member,
    PlannedMeeting,
    Reason,
    Share,
    Start,
)
from bookings.domain.planning.group_first import first_parallel, first_series, most_meetings
from bookings.domain.planning.group_options import (
    Alike,
    Counts,
    Option,
    alike_members,
    is_in,
    options_of,
)
from bookings.domain.planning.group_parallel import ParallelDraft, parallel_draft
from bookings.domain.planning.group_series import SeriesDraft, series_draft
from bookings.domain.planning.model import Solution, Values, Watch
from bookings.domain.planning.solving import solve

FIRST_SHARE = 0.2
"""How much of the time the first answer may take to be made better at its own starts."""
Draft = SeriesDraft | ParallelDraft


def plan_group(
    problem: GroupProblem, *, seconds: float = inf, watch: Watch | None = None
) -> GroupPlan:
    """The best plan that the seconds allow, and a split if somebody would come at a hard hour.

    Refused("invalid") where a series has more meetings than dates for them.
    """
    plan = _planned(problem, seconds, watch)
    if not plan.values.get("hard"):
        return plan
    return replace(plan, split=_split(problem, seconds - plan.seconds, watch))


def _planned(problem: GroupProblem, seconds: float, watch: Watch | None) -> GroupPlan:
    options, costs = options_of(problem)
    is_single = problem.form is Form.SERIES and problem.places < len(problem.members)
    alike = alike_members(problem, costs, is_single=is_single)
    if not alike:
        reasons = tuple(
            (member.id, _reason(problem, member, {}, set())) for member in problem.members
        )
        shares = tuple(Share(member.id, member.carried, 0, 0) for member in problem.members)
        return GroupPlan((), shares, reasons)
    draft, chosen = _drafted(problem, options, alike)
    greedy = draft.values_of(chosen)
    first = solve(
        draft.fixed_to(set(chosen)),
        draft.stages(is_everyone=False),
        seconds=FIRST_SHARE * seconds,
        firsts=[greedy],
        watch=watch,
    )
    everyone = sum(a.count for a in alike)
    is_everyone = bool(first.stages) and first.stages[0].value == everyone
    stages = draft.stages(is_everyone=is_everyone)
    if is_everyone:
        # The bounds of the later stages rest on it.
        draft.model.row(stages[0].terms, least=everyone)
    found = solve(
        draft.model,
        stages,
        seconds=seconds - first.seconds,
        firsts=[greedy, *([] if first.values is None else [first.values])],
        watch=watch,
    )
    return _told(draft, found, found.values or greedy, first.seconds + found.seconds)


def _drafted(
    problem: GroupProblem, options: tuple[Option, ...], alike: list[Alike]
) -> tuple[Draft, Counts]:
    """The model, and a greedy choice."""
    if problem.form is Form.PARALLEL:
        parallel = parallel_draft(problem, options, alike)
        return parallel, first_parallel(problem, options, alike, parallel.most)
    meetings = problem.meetings or 1
    _check_dates(problem, options, meetings)
    chosen = first_series(problem, options, alike, meetings)
    return series_draft(problem, options, alike, meetings), chosen


def _check_dates(problem: GroupProblem, options: tuple[Option, ...], meetings: int) -> None:
    possible = max(most_meetings(problem, options), default=0)
    if possible < meetings:
        raise Refused(
            "invalid",
            f"Choose at most {possible} meetings: the starts have no more dates so far apart.",
            field="meetings",
        )


def _told(draft: Draft, found: Solution, values: Values, seconds: float) -> GroupPlan:
    """The plan in the members' and starts' own terms."""
    problem = draft.problem
    going = draft.going(values)
    at = {draft.options[i].index: here for i, here in going.items()}
    bands = {draft.options[i].band for i in going}
    shares, unplaced = [], []
    for member in problem.members:
        paid = [member.costs[i] or 0 for i, here in at.items() if member.id in here]
        shares.append(Share(member.id, member.carried, sum(paid), max(paid, default=0)))
        if not paid:
            unplaced.append((member.id, _reason(problem, member, at, bands)))
    meetings = tuple(
        PlannedMeeting(draft.options[i].start, tuple(sorted(here)))
        for i, here in sorted(going.items())
    )
    return GroupPlan(
        meetings,
        tuple(shares),
        tuple(unplaced),
        stages=found.stages,
        seconds=seconds,
        is_stopped=found.is_stopped,
    )


def _reason(
    problem: GroupProblem, member: Member, at: Iterable[int], bands: set[Band | None]
) -> Reason:
    """Why the member takes no part where the meetings are at these starts, for these bands."""
    if all(cost is None for cost in member.costs):
        return Reason.NEVER
    if bands and not any(is_in(member, band) for band in bands):
        return Reason.LEVEL
    if problem.bands and not any(is_in(member, band) for band in problem.bands):
        return Reason.LEVEL
    able = [member.costs[i] is not None for i in at]
    is_able = all(able) if problem.form is Form.SERIES else any(able)
    return Reason.FULL if able and is_able else Reason.OTHER_TIMES


def _split(problem: GroupProblem, seconds: float, watch: Watch | None) -> tuple[GroupPlan, ...]:
    """As few groups as place the most members at humane hours, each with a plan of its own.

    Who is with whom is decided at one meeting each; a series then looks for its own dates, at
    starts that no earlier group takes.
    """
    humane = replace(
        problem,
        members=tuple(
            replace(member, costs=tuple(_humane(cost) for cost in member.costs))
            for member in problem.members
        ),
    )
    parallel = _planned(replace(humane, form=Form.PARALLEL, meetings=None), seconds / 2, watch)
    groups: list[GroupPlan] = []
    taken: list[Start] = []
    for meeting in parallel.meetings:
        is_once = problem.form is Form.PARALLEL or problem.meetings == 1
        own = _own_problem(humane, meeting, taken, is_once=is_once)
        plan = _planned(own, (seconds - parallel.seconds) / len(parallel.meetings), watch)
        taken += [planned.start for planned in plan.meetings]
        groups.append(plan)
    return tuple(groups)


def _own_problem(
    problem: GroupProblem, meeting: PlannedMeeting, taken: list[Start], *, is_once: bool
) -> GroupProblem:
    """The problem of those who go to one meeting: its start alone, or all that are not taken."""
    kept = [
        i
        for i, start in enumerate(problem.starts)
        if (start == meeting.start if is_once else not _is_taken(problem, start, taken))
    ]
    members = tuple(
        replace(member, costs=tuple(member.costs[i] for i in kept))
        for member in problem.members
        if member.id in meeting.members
    )
    own = replace(
        problem,
        members=members,
        starts=tuple(problem.starts[i] for i in kept),
        form=Form.SERIES,
        meetings=1 if is_once else problem.meetings,
        bands=(),
    )
    possible = max(most_meetings(own, options_of(own)[0]), default=1)
    return replace(own, meetings=min(own.meetings or 1, possible))


def _is_taken(problem: GroupProblem, start: Start, taken: list[Start]) -> bool:
    return any(
        start.instructor_id == other.instructor_id and problem.collide(start, other)
        for other in taken
    )


def _humane(cost: int | None) -> int | None:
    return None if cost is None or cost >= HARD else cost
