"""The exchanges that a term can hold: found by order, then judged date by date.

A wish whose time cannot hold every date of the term ahead is left out, and the cycles are sought
again without it. What is left out is told, with its dates.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from bookings.domain.parties import InstructorTime, OfferingRules, StudentTime
from bookings.domain.planning.exchanges import Exchange, Move, WeeklyTime, exchanges
from bookings.domain.planning.exchanges_possible import PossibleStarts
from bookings.domain.policy import Policy
from bookings.domain.terms import TermDates
from bookings.domain.timeline import Period
from bookings.domain.weekly import WeeklyOption, WeeklyRequest, judge_weekly
from bookings.domain.weekly import WeeklyTime as At
from bookings.domain.weekly_costs import NEVER


@dataclass(frozen=True, slots=True)
class Holding:
    """A weekly place with what its time is judged by for another student.

    `instructor` is the one of its time. `lessons` are its lessons ahead, changeover included, each
    with the id of the instructor who gives it. The place stays as it is up to `stays_until`, a date
    of the instructor's calendar.
    """

    at: At
    offering: OfferingRules
    instructor: InstructorTime
    student_id: int
    lessons: tuple[tuple[int, Period], ...]
    stays_until: date


@dataclass(frozen=True, slots=True)
class ExchangeProblem:
    """The orders of one term, each place that they name and each student who would move, by id."""

    times: tuple[WeeklyTime, ...]
    holdings: Mapping[int, Holding]
    students: Mapping[int, StudentTime]
    dates: TermDates
    policy: Policy
    now: datetime

    def judged(self, cycle: Exchange) -> list[tuple[Move, WeeklyOption]]:
        """Each move of a cycle, with its new time date by date."""
        leaving = [move.place_id for move in cycle.moves]
        return [(move, self.judge(move, leaving)) for move in cycle.moves]

    def judge(self, move: Move, leaving: Iterable[int]) -> WeeklyOption:
        """The new time of one move, date by date, as if the places `leaving` were given up."""
        request, instructor, student = self._asked(move, leaving)
        at = self.holdings[move.takes_id].at
        return judge_weekly(request, at, instructor, student, self.policy, self.now)

    def whole_times(self, place_id: int, others: Iterable[int]) -> dict[int, WeeklyOption]:
        """Of the times of these other places those that could be had whole, each by its place, as
        if it and the student's own were given up.
        """
        mine = self.holdings[place_id]
        student = _student_without(self.students[mine.student_id], [mine])
        possible = PossibleStarts(self.dates, mine.offering, student, self.policy, self.now)
        requests, found = dict[date, WeeklyRequest](), dict[int, WeeklyOption]()
        for other in others:
            theirs = self.holdings[other]
            leaving, instructor = (mine, theirs), theirs.instructor
            begins_on = first_week(one.stays_until for one in leaving)
            if begins_on not in requests:
                requests[begins_on] = self._request(mine.offering, begins_on)
            request = requests[begins_on]
            known = possible.holding(request, theirs.at, instructor, _given_up(instructor, leaving))
            if known is None:
                continue
            option = judge_weekly(
                request, theirs.at, instructor, student, self.policy, self.now, known=known
            )
            if is_whole(option):
                found[other] = option
        return found

    def _asked(
        self, move: Move, leaving: Iterable[int]
    ) -> tuple[WeeklyRequest, InstructorTime, StudentTime]:
        """The dates of the new time, and both people without the lessons that are given up."""
        given_up = [self.holdings[place] for place in leaving]
        mine, theirs = self.holdings[move.place_id], self.holdings[move.takes_id]
        own = [one for one in given_up if one.student_id == mine.student_id]
        begins_on = first_week(holding.stays_until for holding in given_up)
        return (
            self._request(mine.offering, begins_on),
            theirs.instructor.without(_given_up(theirs.instructor, given_up)),
            _student_without(self.students[mine.student_id], own),
        )

    def _request(self, offering: OfferingRules, begins_on: date) -> WeeklyRequest:
        """The dates of the term from that one on."""
        days = (begins_on - self.dates.first_on).days
        given_up = (self.dates.first_on + timedelta(days=day) for day in range(days))
        return WeeklyRequest(self.dates, offering, without=frozenset(given_up))


@dataclass(frozen=True, slots=True)
class PossibleExchanges:
    """Cycles whose times hold every date, each move with them; and the wishes left out."""

    found: tuple[tuple[tuple[Move, WeeklyOption], ...], ...]
    left_out: tuple[tuple[Move, WeeklyOption], ...]


def possible_exchanges(problem: ExchangeProblem) -> PossibleExchanges:
    """The cycles of the orders whose times can all be had.

    Every round leaves out a wish or is the last one.
    """
    times, left_out = problem.times, list[tuple[Move, WeeklyOption]]()
    while True:
        judged = [tuple(problem.judged(cycle)) for cycle in exchanges(times)]
        failed = [
            (move, option) for cycle in judged for move, option in cycle if not is_whole(option)
        ]
        if not failed:
            return PossibleExchanges(tuple(judged), tuple(left_out))
        left_out += failed
        times = _without([move for move, _ in failed], times)


def is_whole(option: WeeklyOption) -> bool:
    """Whether the time holds each of its dates, there is one, and no hour is marked “never”."""
    return bool(option.held) and not option.failed and option.greatest_burden < NEVER


def first_week(stay_until: Iterable[date]) -> date:
    """The Monday after all of these dates, on which the new times begin."""
    last = max(stay_until)
    return last + timedelta(days=7 - last.weekday())


def _without(moves: Iterable[Move], times: Iterable[WeeklyTime]) -> tuple[WeeklyTime, ...]:
    gone = {(move.place_id, move.takes_id) for move in moves}
    return tuple(
        replace(
            time, wishes=tuple(wish for wish in time.wishes if (time.place_id, wish) not in gone)
        )
        for time in times
    )


def _given_up(instructor: InstructorTime, leaving: Iterable[Holding]) -> frozenset[datetime]:
    """The starts of the lessons that this instructor would give no more."""
    return frozenset(
        period.starts_at
        for one in leaving
        for giver, period in one.lessons
        if giver == instructor.id
    )


def _student_without(time: StudentTime, leaving: Iterable[Holding]) -> StudentTime:
    gone = {period.starts_at for one in leaving for _, period in one.lessons}
    return replace(
        time, meetings=tuple(period for period in time.meetings if period.starts_at not in gone)
    )
