"""What is read to exchange weekly places: the places of a term, their orders, and what judges
another time.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from accounts.models import Student
from bookings.domain.errors import Refused
from bookings.domain.parties import StudentTime
from bookings.domain.planning.exchanges import WeeklyTime, is_compatible
from bookings.domain.planning.exchanges_judged import ExchangeProblem, Holding
from bookings.domain.policy import Policy, cancel_by
from bookings.domain.timeline import Period
from bookings.domain.weekly import WeeklyTime as At
from bookings.domain.zones import zone
from bookings.models import Booking, PlaceWish, Term, WeeklyPlace
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules
from bookings.queries.planning.exchange_places import (
    OpenPlace,
    Taught,
    as_open,
    exchangeable,
    times_offered,
    who_teaches,
)
from bookings.queries.planning.students import times_of_students
from bookings.queries.planning.versions import seen_now
from bookings.queries.policies import policy_in_force
from bookings.queries.weekly import around_term


def term_named(asked: Mapping[str, Any]) -> Term:
    """The term of a plan. Refused("invalid") where there is none of that id."""
    term = Term.objects.prefetch_related("breaks").filter(pk=asked["term"]).first()
    if term is None:
        raise Refused("invalid", "Choose a term.", field="term")
    return term


def read_exchanges(
    asked: Mapping[str, Any], *, now: datetime
) -> tuple[ExchangeProblem, dict[str, int | str]]:
    """The orders of the term and the versions of what was read: a fixed number of queries.

    Only places with an order can change hands. A wish is left out where its place has ended, its
    family gives no order, or it no longer fits; so is a place whose family is being asked already.
    """
    term = term_named(asked)
    wishes = _wishes(term)
    places = as_open(exchangeable(term).filter(pk__in=wishes))
    taught = who_teaches({place.offering_id for place in places})
    problem = _problem_of(term, places, taught, wishes, now=now)
    theirs = {place.instructor_id for place in places}
    instructors = {row.instructor for row in taught.values() if row.instructor_id in theirs}
    return problem, seen_now(instructors=instructors, term=term)


def _problem_of(
    term: Term,
    places: Sequence[OpenPlace],
    taught: Taught,
    wishes: Mapping[int, Sequence[int]],
    *,
    now: datetime,
) -> ExchangeProblem:
    """These places with the wishes that fit, each by place, the best first."""
    times = tuple(
        replace(time, wishes=_fitting(time, wishes.get(pk, ()), others))
        for others in times_offered(places, taught).values()
        for pk, time in others.items()
    )
    offered = {time.place_id for time in times}
    places = [place for place in places if place.pk in offered]
    named = Student.objects.filter(pk__in={place.student_id for place in places})
    students = times_of_students(named.select_related("user"), *around_term(term, now))
    return problem_among(times, term, places, taught, students, now=now)


def problem_among(
    times: tuple[WeeklyTime, ...],
    term: Term,
    places: Sequence[OpenPlace],
    taught: Taught,
    students: Mapping[int, StudentTime],
    *,
    now: datetime,
) -> ExchangeProblem:
    """What judges the times of these places of the term for the students who would move."""
    policy = policy_in_force(now).rules()
    holdings = _holdings(term, places, taught, policy, now)
    return ExchangeProblem(times, holdings, students, term.dates(), policy, now)


def _wishes(term: Term) -> dict[int, list[int]]:
    """Each family's order: the wished places by the place that they would leave."""
    found: dict[int, list[int]] = defaultdict(list)
    rows = PlaceWish.objects.filter(order__place__term=term, order__place__ended_at__isnull=True)
    for place, wished in rows.order_by("order", "rank").values_list("order__place", "wished"):
        found[place].append(wished)
    return found


def _fitting(
    time: WeeklyTime, wishes: Sequence[int], others: Mapping[int, WeeklyTime]
) -> tuple[int, ...]:
    """The wishes that this family could have, in its order."""
    return tuple(pk for pk in wishes if pk in others and is_compatible(time, others[pk]))


def _holdings(
    term: Term, places: Sequence[OpenPlace], taught: Taught, policy: Policy, now: datetime
) -> dict[int, Holding]:
    since, until = around_term(term, now)
    people = {place.instructor_id for place in places}
    rows = {row.instructor_id: row for row in taught.values() if row.instructor_id in people}
    instructors = (row.instructor for row in rows.values())
    times = {time.id: time for time in instructors_time(instructors, since, until)}
    rules = {row.offering_id: offering_rules(row.offering, policy) for row in taught.values()}
    lessons, stay = _lessons(places, policy, now)
    return {
        place.pk: Holding(
            at=At(place.weekday, place.wall_at),
            offering=rules[place.offering_id],
            instructor=times[place.instructor_id],
            student_id=place.student_id,
            lessons=tuple(lessons[place.pk]),
            stays_until=stay[place.pk],
        )
        for place in places
    }


def stay_until(places: Sequence[WeeklyPlace], *, now: datetime) -> dict[int, date]:
    """Up to which date each of these places stays as it is, were it exchanged now: two queries.

    That is the last date within the lead time, or of a lesson whose cancellation deadline has
    passed.
    """
    return _lessons(places, policy_in_force(now).rules(), now)[1]


def _lessons(
    places: Sequence[WeeklyPlace | OpenPlace], policy: Policy, now: datetime
) -> tuple[dict[int, list[tuple[int, Period]]], dict[int, date]]:
    """The lessons ahead of each place, and until when it stays as it is."""
    earliest = now + timedelta(minutes=policy.lead_time_minutes)
    stay = {place.pk: earliest.astimezone(zone(place.zone)).date() for place in places}
    lessons: dict[int, list[tuple[int, Period]]] = defaultdict(list)
    rows = Booking.objects.held().ahead(now).filter(meeting__weekly_place__in=list(stay))
    booked_under = _Policies(policy)
    for place, giver, begins, free_at, on, starts_at, notice in rows.values_list(*_LESSON):
        lessons[place].append((giver, Period(begins, free_at)))
        if now > cancel_by(booked_under[notice], starts_at):
            stay[place] = max(stay[place], on)
    return lessons, stay


_LESSON = (
    "meeting__weekly_place",
    "meeting__instructor",
    "meeting__starts_at",
    "meeting__held_until",
    "meeting__wall_on",
    "starts_at",
    "policy__notice_minutes",
)


class _Policies(dict[int, Policy]):
    """The policy with other minutes of notice: all that a deadline asks of the version under which
    a lesson was booked.
    """

    def __init__(self, policy: Policy) -> None:
        self._policy = policy

    def __missing__(self, notice_minutes: int) -> Policy:
        found = self[notice_minutes] = replace(self._policy, notice_minutes=notice_minutes)
        return found
