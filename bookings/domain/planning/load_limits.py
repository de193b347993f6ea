"""What lessons decided together would break of one instructor's load.

The rules are those of `domain.load`, asked of one lesson among the others. A breach is told such
that a linear model can hold it: over a local day or week as a sum of seconds, for minutes in a row
and for the night's rest as a set of lessons that must not all be taught.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta

from bookings.domain.load import TAUGHT_AROUND, bars
from bookings.domain.load_bars import Bar
from bookings.domain.policy import Policy
from bookings.domain.timeline import CELL, Horizon, Period
from bookings.domain.wall import Seconds, seconds
from bookings.domain.zones import zone

_MINUTE = 60


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule that a lesson breaks beside others.

    For a day or a week `within` is that stretch, and at most `limit` seconds may be taught in it,
    the instructor's fixed meetings included. Else `within` is None, and the rule is broken whenever
    the lesson and all of `others` are taught.
    """

    code: str
    others: frozenset[int]
    within: Seconds | None = None
    limit: int = 0


class LoadLimits:
    """One instructor's load: `fixed` is what they teach in any case, without changeover.

    A lesson's id means the same period each time it is asked for.
    """

    def __init__(self, fixed: tuple[Period, ...], time_zone: str, policy: Policy) -> None:
        self.fixed, self.time_zone, self.policy = fixed, time_zone, policy
        self._known: dict[tuple[int, frozenset[int]], list[Breach]] = {}
        self._rests: dict[tuple[Period, Period], bool] = {}

    def breaches(self, lesson_id: int, lessons: Mapping[int, Period]) -> list[Breach]:
        """Every rule that this lesson breaks where all of `lessons`, itself among them, are taught.

        The night's rest is kept towards each meeting of another day, not only the last before and
        the first after: so a lesson without a breach has none in whatever order they are written.
        """
        lesson = lessons[lesson_id]
        others = {
            other_id: other
            for other_id, other in lessons.items()
            if other_id != lesson_id and abs(other.starts_at - lesson.starts_at) < TAUGHT_AROUND
        }
        key = (lesson_id, frozenset(others))
        if key not in self._known:
            self._known[key] = [
                *self._in_a_row_and_sums(lesson, others),
                *self._too_little_rest(lesson, others),
            ]
        return self._known[key]

    def fixed_seconds(self, within: Seconds) -> int:
        """What the fixed meetings take of a stretch."""
        return sum(seconds_in(meeting, within) for meeting in self.fixed)

    def bars(self, minutes: int, others: Iterable[Period], horizon: Horizon) -> list[Bar]:
        """Where a lesson of that many minutes may not start beside fixed meetings and others."""
        return list(bars((*self.fixed, *others), self.time_zone, minutes, self.policy, horizon))

    def _in_a_row_and_sums(self, lesson: Period, others: dict[int, Period]) -> Iterator[Breach]:
        for bar in self._bars(lesson, others.values()):
            if bar.code == "load-run":
                yield Breach(bar.code, self._fewest_in_a_row(lesson, others))
            elif bar.code != "load-rest":
                yield Breach(bar.code, frozenset(others), bar.within, bar.limit * _MINUTE)

    def _fewest_in_a_row(self, lesson: Period, others: dict[int, Period]) -> frozenset[int]:
        """Some of the others that make the run too long: those around the lesson without a rest
        between, less what it does not need at either end.
        """
        run = self._around(lesson, others)
        while run[0][1] != lesson and self._is_too_long(run[1:]):
            run = run[1:]
        while run[-1][1] != lesson and self._is_too_long(run[:-1]):
            run = run[:-1]
        found = {i: others[i] for i, _ in run if i is not None}
        is_enough = any(bar.code == "load-run" for bar in self._bars(lesson, found.values()))
        return frozenset(found if is_enough else others)

    def _around(self, lesson: Period, others: dict[int, Period]) -> list[tuple[int | None, Period]]:
        """The meetings in a row with the lesson, by time; fixed ones and itself without an id."""
        rest = timedelta(minutes=max(self.policy.run_gap_minutes, 1))
        taught: list[tuple[int | None, Period]] = [*others.items()]
        taught += [(None, meeting) for meeting in (*self.fixed, lesson)]
        taught.sort(key=lambda one: one[1].starts_at)
        run: list[tuple[int | None, Period]] = []
        for one in taught:
            if run and one[1].starts_at - run[-1][1].ends_at >= rest:
                if any(meeting == lesson for _, meeting in run):
                    break
                run = []
            run.append(one)
        return run

    def _is_too_long(self, run: list[tuple[int | None, Period]]) -> bool:
        return sum(meeting.minutes for _, meeting in run) > self.policy.run_minutes

    def _bars(self, lesson: Period, others: Iterable[Period]) -> list[Bar]:
        """Those in which the lesson starts."""
        start = seconds(lesson.starts_at)
        horizon = Horizon.spanning(lesson.starts_at, lesson.starts_at + CELL)
        found = self.bars(lesson.minutes, others, horizon)
        return [bar for bar in found if bar.since <= start < bar.until]

    def _too_little_rest(self, lesson: Period, others: dict[int, Period]) -> Iterator[Breach]:
        if any(self._is_too_near(lesson, meeting) for meeting in self.fixed):
            yield Breach("load-rest", frozenset())
        for other_id, other in others.items():
            if self._is_too_near(lesson, other):
                yield Breach("load-rest", frozenset({other_id}))

    def _is_too_near(self, lesson: Period, other: Period) -> bool:
        """Whether the two lie on different local days with too little rest between them."""
        rest = timedelta(minutes=self.policy.night_rest_minutes)
        between = max(lesson.starts_at - other.ends_at, other.starts_at - lesson.ends_at)
        if between >= rest or self._on(lesson) == self._on(other):
            return False
        if (lesson, other) not in self._rests:
            alone = LoadLimits((), self.time_zone, self.policy)
            found = alone._bars(lesson, (other,))
            self._rests[lesson, other] = any(bar.code == "load-rest" for bar in found)
        return self._rests[lesson, other]

    def _on(self, meeting: Period) -> int:
        return meeting.starts_at.astimezone(zone(self.time_zone)).toordinal()


def seconds_in(meeting: Period, within: Seconds) -> int:
    """How many seconds of the meeting lie in the stretch of UTC seconds."""
    since, until = seconds(meeting.starts_at), seconds(meeting.ends_at)
    return max(min(until, within[1]) - max(since, within[0]), 0)
