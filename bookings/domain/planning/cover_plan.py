"""Plans a cover: the model of `cover_model`, solved and told as handovers."""

from collections.abc import Sequence
from dataclasses import replace

from bookings.domain.planning.cover import (
    OUTSIDE_HOURS,
    Cover,
    CoverProblem,
    Handover,
    Uncovered,
)
from bookings.domain.planning.cover_load import CoverLoad, plain_of
from bookings.domain.planning.cover_model import stages, write_rows
from bookings.domain.planning.cover_options import Taking, takings, why_uncovered
from bookings.domain.planning.model import Model, Row, Values, Watch
from bookings.domain.planning.solving import solve

SECONDS = 10.0


def plan_cover(
    problem: CoverProblem, *, seconds: float = SECONDS, watch: Watch | None = None
) -> Cover:
    """The best cover that `seconds` allow; `planning.cover` says what is best."""
    model = Model()
    those = takings(problem, model)
    write_rows(model, those)
    load = CoverLoad(problem, those)

    def broken(values: Values) -> list[Row]:
        return load.broken(_taken(those, values), values)

    nothing = (0.0,) * len(model.low)
    covered, *others = stages(those)
    first = solve(model, [covered], seconds=seconds, firsts=[nothing], watch=watch, presolve=False)
    if problem.only_plain:
        model.row([(one.needs, 1) for one in those if one.needs is not None], most=0)
        first_answer = nothing  # the best cover may need a yes
    else:
        first_answer = _first_answer(those, first.values or nothing, load)
    found = solve(
        model,
        [replace(covered, known_bound=first.stages[0].bound), *others],
        seconds=seconds - first.seconds,
        firsts=[first_answer],
        watch=watch,
        cuts=broken,
        presolve=False,
    )
    values = found.values or nothing
    taken = _taken(those, values)
    return Cover(
        tuple(_handover(taking, taken, values, load) for taking in taken),
        _uncovered(problem, those, taken),
        stages=found.stages,
        seconds=first.seconds + found.seconds,
        is_stopped=found.is_stopped,
    )


def _uncovered(
    problem: CoverProblem, those: Sequence[Taking], taken: Sequence[Taking]
) -> tuple[tuple[int, Uncovered], ...]:
    """The lessons that nobody takes, each with why."""
    gone = {taking.lesson.id for taking in taken}
    left = [lesson for lesson in problem.lessons if lesson.id not in gone]
    return tuple((lesson.id, why_uncovered(lesson, problem, those)) for lesson in left)


def _taken(those: Sequence[Taking], values: Values) -> list[Taking]:
    """The takings of a solution, by time."""
    found = [one for one in those if any(values[column] for column in one.columns.values())]
    return sorted(found, key=lambda one: (one.lesson.starts_at, one.lesson.id))


def _first_answer(those: Sequence[Taking], values: Values, load: CoverLoad) -> Values:
    """A cover that was found without a look at the load: each lesson in turn needs a yes if it
    breaks a rule beside those before it.
    """
    found, taken = list(values), _taken(those, values)
    plain: list[Taking] = []
    for taking in taken:
        if taking.needs is None:
            continue
        if load.breaches(taking, plain, taken):
            found[taking.needs] = 1.0
        else:
            plain.append(taking)
    return tuple(found)


def _handover(taking: Taking, taken: Sequence[Taking], values: Values, load: CoverLoad) -> Handover:
    displaces = [
        one.lesson.id for one in taken if any(own.id == taking.lesson.id for own in one.in_the_way)
    ]
    codes = [OUTSIDE_HOURS] if taking.is_outside else []
    if taking.needs is not None and values[taking.needs]:
        found = load.breaches(taking, plain_of(taken, values), taken)
        codes += [breach.code for breach in found]
    return Handover(
        taking.lesson.id,
        taking.by.instructor_id,
        displaces[0] if displaces else None,
        () if taking.is_agreed else tuple(dict.fromkeys(codes)),
        taking.by.instructor_id in taking.lesson.met,
    )
