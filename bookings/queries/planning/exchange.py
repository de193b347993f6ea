"""What is read to exchange weekly places: the places of a term, their orders, and what judges
another time.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import F, QuerySet

from accounts.models import Instructor
from bookings.domain.errors import Refused
from bookings.domain.parties import StudentTime
from bookings.domain.planning.exchanges import WeeklyTime, is_compatible
from bookings.domain.planning.exchanges_judged import ExchangeProblem, Holding
from bookings.domain.policy import Policy, cancel_by
from bookings.domain.timeline import Period
from bookings.domain.weekly import WeeklyTime as At
from bookings.domain.zones import zone
from bookings.models import Booking, ExchangeMove, PlaceWish, Teaches, Term, WeeklyPlace
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules
from bookings.queries.planning.students import times_of_students
from bookings.queries.planning.versions import seen_now
from bookings.queries.policies import policy_in_force
from bookings.queries.teaching import zone_of_hours
from bookings.queries.weekly import around_term
from bookings.queries.weekly_places import open_places

Levels = Mapping[tuple[int, int], tuple[int, int]]
"""The lowest and highest level that is taught, by instructor and offering."""


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
    places = exchangeable(term).filter(pk__in=wishes)
    problem = problem_of(term, list(places), wishes, now=now)
    instructors = {place.instructor for place in places}
    return problem, seen_now(instructors=instructors, term=term)


def exchangeable(term: Term) -> QuerySet[WeeklyPlace]:
    """The places of a term that go on and that no open exchange concerns, by id.

    A place whose instructor has changed the zone of their hours since has another time by now.
    """
    asked = ExchangeMove.objects.filter(exchange__ended_at__isnull=True).order_by()
    rows = open_places(WeeklyPlace.objects.filter(term=term, instructor__is_active=True))
    free = rows.exclude(pk__in=asked.values("place"))
    return free.select_related("instructor__week").order_by("pk")


def problem_of(
    term: Term,
    places: Iterable[WeeklyPlace],
    wishes: Mapping[int, Sequence[int]],
    *,
    now: datetime,
) -> ExchangeProblem:
    """These places of the term with the wishes that fit, each by place, the best first."""
    places = list(places)
    alike = times_offered(places)
    times = tuple(
        replace(time, wishes=_fitting(time, wishes.get(pk, ()), others))
        for others in alike.values()
        for pk, time in others.items()
    )
    offered = {time.place_id for time in times}
    places = [place for place in places if place.pk in offered]
    students = times_of_students({place.student for place in places}, *around_term(term, now))
    return problem_among(times, term, places, students, now=now)


def times_offered(places: Iterable[WeeklyPlace]) -> dict[int, dict[int, WeeklyTime]]:
    """The times of these places that can change hands, by offering and place: one query."""
    places = [place for place in places if place.zone == zone_of_hours(place.instructor)]
    levels = _levels(places)
    places = [place for place in places if (place.instructor_id, place.offering_id) in levels]
    teachers = {place.instructor_id: place.instructor for place in places}
    return {
        offering: {place.pk: _time(place, levels, teachers) for place in rows}
        for offering, rows in _by_offering(places).items()
    }


def problem_among(
    times: tuple[WeeklyTime, ...],
    term: Term,
    places: Sequence[WeeklyPlace],
    students: Mapping[int, StudentTime],
    *,
    now: datetime,
) -> ExchangeProblem:
    """What judges the times of these places of the term for the students who would move."""
    policy = policy_in_force(now).rules()
    holdings = _holdings(term, places, policy, now)
    return ExchangeProblem(times, holdings, students, term.dates(), policy, now)


def _wishes(term: Term) -> dict[int, list[int]]:
    """Each family's order: the wished places by the place that they would leave."""
    found: dict[int, list[int]] = defaultdict(list)
    rows = PlaceWish.objects.filter(order__place__term=term, order__place__ended_at__isnull=True)
    for place, wished in rows.order_by("order", "rank").values_list("order__place", "wished"):
        found[place].append(wished)
    return found


def _levels(places: Iterable[WeeklyPlace]) -> Levels:
    rows = Teaches.objects.filter(offering__in={place.offering_id for place in places})
    return {
        (row.instructor_id, row.offering_id): (row.lowest_level, row.highest_level) for row in rows
    }


def _time(place: WeeklyPlace, levels: Levels, teachers: Mapping[int, Instructor]) -> WeeklyTime:
    """The place as the exchange sees it. A family accepts whoever teaches a time that it names."""
    lowest, highest = levels[place.instructor_id, place.offering_id]
    return WeeklyTime(
        place_id=place.pk,
        minutes=place.offering.minutes,
        instructor_id=place.instructor_id,
        level=place.student.level,
        lowest_level=lowest,
        highest_level=highest,
        instructors=tuple(
            pk
            for pk, teacher in teachers.items()
            if place.student.user_id is None or teacher.user_id != place.student.user_id
        ),
    )


def _by_offering(places: Iterable[WeeklyPlace]) -> dict[int, list[WeeklyPlace]]:
    """A lesson is exchanged for one of the same offering."""
    found: dict[int, list[WeeklyPlace]] = defaultdict(list)
    for place in places:
        found[place.offering_id].append(place)
    return found


def _fitting(
    time: WeeklyTime, wishes: Sequence[int], others: Mapping[int, WeeklyTime]
) -> tuple[int, ...]:
    """The wishes that this family could have, in its order."""
    return tuple(pk for pk in wishes if pk in others and is_compatible(time, others[pk]))


def _holdings(
    term: Term, places: Sequence[WeeklyPlace], policy: Policy, now: datetime
) -> dict[int, Holding]:
    since, until = around_term(term, now)
    people = {place.instructor_id: place.instructor for place in places}
    times = {time.id: time for time in instructors_time(people.values(), since, until)}
    lessons, stay = _lessons(places, policy, now)
    return {
        place.pk: Holding(
            at=At(place.weekday, place.wall_at),
            offering=offering_rules(place.offering, policy),
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
    places: Sequence[WeeklyPlace], policy: Policy, now: datetime
) -> tuple[dict[int, list[tuple[int, Period]]], dict[int, date]]:
    """The lessons ahead of each place, and until when it stays as it is."""
    earliest = now + timedelta(minutes=policy.lead_time_minutes)
    stay = {place.pk: earliest.astimezone(zone(place.zone)).date() for place in places}
    lessons: dict[int, list[tuple[int, Period]]] = defaultdict(list)
    rows = Booking.objects.held().ahead(now).filter(meeting__weekly_place__in=places)
    rows = rows.annotate(place_id=F("meeting__weekly_place"))
    for row in rows.select_related("meeting", "policy"):
        meeting, place = row.meeting, row.place_id
        lessons[place].append(
            (meeting.instructor_id, Period(meeting.starts_at, meeting.held_until))
        )
        if now > cancel_by(row.policy.rules(), row.starts_at):
            stay[place] = max(stay[place], meeting.wall_on)
    return lessons, stay
