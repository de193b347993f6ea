"""The load of substitutes as rows of a cover's model, found where a solution breaks it.

Write p(l, s) for a lesson that s teaches without a yes: y(l, s) - n(l, s) for one that s takes, y
being the sum over k of x(l, s, k), and 1 less all that is taken of it for one of their own.

Where the seconds a within a day or week come to more than its limit A, the sum of a(l) p(l, s) is
at most A. Where the lessons of a set C break a rule together, the sum of p over all lessons at one
of their times is at most |C| - 1, since s teaches one lesson at a time. Where s has own lessons at
all of these times, which may break the rule as they are, one of them is left out, each in turn. A
run that is too long by itself is written for every substitute who could teach at all of its times.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from bookings.domain.planning.cover import CoverProblem, Lesson, Substitute
from bookings.domain.planning.cover_options import Taking
from bookings.domain.planning.load_limits import Breach, LoadLimits, seconds_in
from bookings.domain.planning.model import Row, Values
from bookings.domain.timeline import Period


def plain_of(taken: Iterable[Taking], values: Values) -> list[Taking]:
    """Those of a solution's takings that need no yes and count for the load."""
    return [one for one in taken if one.needs is not None and not values[one.needs]]


class CoverLoad:
    """The load of every substitute of a problem beside what they could take."""

    def __init__(self, problem: CoverProblem, takings: Sequence[Taking]) -> None:
        self._substitutes, self._policy = problem.substitutes, problem.policy
        self._limits = {
            one.instructor_id: LoadLimits(one.taught, one.time_zone, problem.policy)
            for one in problem.substitutes
        }
        self._by: dict[int, list[Taking]] = {one.instructor_id: [] for one in problem.substitutes}
        self._columns_of: dict[int, list[int]] = {}
        for taking in takings:
            self._by[taking.by.instructor_id].append(taking)
            self._columns_of.setdefault(taking.lesson.id, []).extend(taking.columns.values())

    def broken(self, taken: Sequence[Taking], values: Values) -> list[Row]:
        """The rows that a solution breaks."""
        plain = plain_of(taken, values)
        rows: list[Row] = []
        for taking in plain:
            for breach in self.breaches(taking, plain, taken):
                rows += self._rows(taking, breach)
        return rows

    def breaches(
        self, taking: Taking, plain: Iterable[Taking], taken: Iterable[Taking]
    ) -> list[Breach]:
        """What the lesson breaks of its taker's load where of all that is `taken` the taker has
        those of `plain` without a yes.
        """
        gone = {other.lesson.id for other in taken}
        lessons = [own for own in taking.by.lessons if own.id not in gone]
        lessons += [other.lesson for other in (*plain, taking) if other.by is taking.by]
        limits = self._limits[taking.by.instructor_id]
        return limits.breaches(taking.lesson.id, {lesson.id: lesson.taught for lesson in lessons})

    def _rows(self, taking: Taking, breach: Breach) -> Iterator[Row]:
        one = taking.by
        lessons = {lesson.id: lesson.taught for lesson in self._could_teach(one)}
        together = {i: lessons[i] for i in (taking.lesson.id, *breach.others)}
        if breach.within is not None:
            parts = {i: seconds_in(period, breach.within) for i, period in lessons.items()}
            left = breach.limit - self._limits[one.instructor_id].fixed_seconds(breach.within)
            if sum(parts[own.id] for own in one.lessons) <= left:
                yield self._sum(one, parts, left)
                return
            together = {i: period for i, period in together.items() if parts[i]}
        yield from self._not_all(one, set(together.values()))
        alone = LoadLimits((), one.time_zone, self._policy)
        if "load-run" in {other.code for other in alone.breaches(taking.lesson.id, together)}:
            for other_one in self._substitutes:
                if other_one is not one:
                    yield from self._not_all(other_one, set(together.values()))

    def _not_all(self, one: Substitute, times: set[Period]) -> Iterator[Row]:
        """Not at each of these times a lesson, unless all are their own; no row where that cannot
        be.
        """
        those = [lesson for lesson in self._could_teach(one) if lesson.taught in times]
        if times - {lesson.taught for lesson in those}:
            return
        own = {lesson.taught: lesson for lesson in one.lessons if lesson.taught in times}
        left_out: list[Lesson | None] = [None]
        if len(own) == len(times):
            left_out = [*own.values()]
        for out in left_out:
            weights = {lesson.id: 1 for lesson in those if lesson is not out}
            yield self._sum(one, weights, len(times) - 1)

    def _could_teach(self, one: Substitute) -> list[Lesson]:
        """Their own lessons, and those that they could take without a yes."""
        takings = self._by[one.instructor_id]
        return [*one.lessons, *(taking.lesson for taking in takings if taking.needs is not None)]

    def _sum(self, one: Substitute, weights: Mapping[int, int], most: int) -> Row:
        """The sum of weight * p(l, one) is at most `most`."""
        terms: list[tuple[int, float]] = []
        for own in one.lessons:
            weight = weights.get(own.id, 0)
            most -= weight
            terms += [(column, -weight) for column in self._columns_of.get(own.id, ())]
        for taking in self._by[one.instructor_id]:
            weight = weights.get(taking.lesson.id, 0)
            if weight and taking.needs is not None:
                terms += [(column, weight) for column in taking.columns.values()]
                terms.append((taking.needs, -weight))
        return Row(terms, most=most)
