"""Exchanges of weekly places: found, and adopted as one question to every family of a cycle."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.domain.planning.exchanges import Exchange, Move
from bookings.domain.planning.exchanges_judged import (
    ExchangeProblem,
    is_whole,
    possible_exchanges,
)
from bookings.domain.planning.model import Watch
from bookings.domain.plans import Solved
from bookings.domain.proposed_times import shared_answer_by
from bookings.domain.weekly import WeeklyOption
from bookings.models import ExchangeMove, Plan, WeeklyPlace
from bookings.operations.exchanges import ask_families
from bookings.operations.planning.work import PlanWork, by_request, refuse_conflicts, still_named
from bookings.operations.weekly import lock_places
from bookings.queries.planning.exchange import read_exchanges, term_named

Judged = Sequence[tuple[Move, WeeklyOption]]
Places = Mapping[int, WeeklyPlace]


def check(asked: dict[str, Any], *, now: datetime) -> None:
    """Refused("invalid") for no term, "past" for one that is over."""
    if term_named(asked).last_on < now.date():
        raise Refused("past", "This term is over. Choose another one.", field="term")


def solve(problem: ExchangeProblem, seconds: float, watch: Watch) -> Solved:
    """The exchanges as plain values. It takes no time worth watching."""
    possible = possible_exchanges(problem)
    answer = {
        "orders": sum(bool(time.wishes) for time in problem.times),
        "exchanges": [{"moves": [_plain(*row) for row in cycle]} for cycle in possible.found],
        "left_out": [
            {**_plain(move, option), "dates": [day.on.isoformat() for day in option.failed]}
            for move, option in possible.left_out
        ],
    }
    return Solved(answer, 0, False)


def _plain(move: Move, option: WeeklyOption) -> dict[str, Any]:
    return {"place": move.place_id, "takes": move.takes_id, "burden": option.greatest_burden}


def adopt(plan: Plan, *, actor: User, now: datetime) -> None:
    """Asks every family of every cycle, or refuses with each move that cannot be had any more."""
    cycles = [
        Exchange(tuple(Move(row["place"], row["takes"]) for row in cycle["moves"]))
        for cycle in (plan.answer or {})["exchanges"]
    ]
    if not cycles:
        raise Refused("not-yet", "This plan has no exchange to adopt.")
    ids = [move.place_id for cycle in cycles for move in cycle.moves]
    places = WeeklyPlace.objects.select_related("student", "term").in_bulk(ids)
    lock_places(list(places.values()), now)
    problem, _ = still_named(lambda: read_exchanges(plan.asked, now=now))
    refuse_conflicts([row for cycle in cycles for row in _gone(cycle, problem, places)])
    judged = [problem.judged(cycle) for cycle in cycles]
    refuse_conflicts([row for cycle in judged for row in _not_whole(cycle, places)])
    for cycle in judged:
        _ask(plan, cycle, places, problem, actor=actor, now=now)


def _ask(
    plan: Plan,
    cycle: Judged,
    places: Places,
    problem: ExchangeProblem,
    *,
    actor: User,
    now: datetime,
) -> None:
    """One question to each family. All have the same time to answer."""
    firsts = [option.held[0].starts_at for _, option in cycle]
    who = {problem.holdings[move.place_id].student_id for move, _ in cycle}
    zones = {problem.students[student].time_zone for student in who}
    ask_families(
        actor=actor,
        plan=plan,
        moves=[
            ExchangeMove(
                place=places[move.place_id],
                takes=places[move.takes_id],
                first_at=option.held[0].starts_at,
            )
            for move, option in cycle
        ],
        answer_by=shared_answer_by(now, firsts, zones),
        now=now,
    )


def _gone(cycle: Exchange, problem: ExchangeProblem, places: Places) -> list[dict[str, Any]]:
    """The moves of a cycle that are not wished, or do not fit, any more."""
    wishes = {time.place_id: time.wishes for time in problem.times}
    return [
        _conflict(move, places, "conflict", "a place or a wish has changed.")
        for move in cycle.moves
        if move.takes_id not in wishes.get(move.place_id, ())
    ]


def _not_whole(cycle: Judged, places: Places) -> list[dict[str, Any]]:
    """The moves whose new time does not hold every date."""
    return [
        _conflict(move, places, "term-dates", "the new time does not hold every date.")
        for move, option in cycle
        if not is_whole(option)
    ]


def _conflict(move: Move, places: Places, code: str, detail: str) -> dict[str, Any]:
    student, takes = places[move.place_id].student, places[move.takes_id]
    return {
        "student": student.pk,
        "instructor": takes.instructor_id,
        "code": code,
        "detail": f"{student.full_name}: {detail}",
    }


WORK = PlanWork(check=check, read=by_request(read_exchanges), solve=solve, adopt=adopt)
