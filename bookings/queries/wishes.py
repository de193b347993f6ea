"""Other families' weekly times that a family may wish for, and the order that it has given.

Nobody learns whose a time is: only its weekday, its hour and its instructor are shown.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import OuterRef, Q, QuerySet, Subquery, prefetch_related_objects

from accounts.models import Guardianship, Instructor, Student
from bookings.domain.planning.exchanges import is_compatible
from bookings.domain.weekly import WeeklyOption
from bookings.models import PlaceWish, WeeklyPlace, WishOrder
from bookings.queries.planning.exchange import problem_among
from bookings.queries.planning.exchange_places import (
    as_open,
    exchangeable,
    times_offered,
    who_teaches,
)
from bookings.queries.student_times import student_time
from bookings.queries.weekly import around_term


@dataclass(frozen=True, slots=True)
class OtherTime:
    """A weekly time that another family has, by the id of its place, with its dates.

    `rank` is the one that the family has given it, 1 for the best; None for a time not wished for.
    """

    place_id: int
    instructor: Instructor
    time_zone: str
    option: WeeklyOption
    rank: int | None = None


def order_of(place: WeeklyPlace) -> WishOrder:
    """What the family would rather have; an unsaved order, version 0, if it has said nothing."""
    found = WishOrder.objects.filter(place=place).first()
    return found or WishOrder(place=place)


def order_read(place: WeeklyPlace) -> WishOrder:
    """The same as it stood when `access_own_weekly_place` read the place: no query."""
    return getattr(place, "wish_order", None) or WishOrder(place=place)


def wished_by(order: WishOrder) -> list[int]:
    """The ids of the places whose times are wished, the best first."""
    if order.pk is None:
        return []
    return list(order.wishes.order_by("rank").values_list("wished_id", flat=True))


def other_times(place: WeeklyPlace, *, now: datetime) -> list[OtherTime]:
    """Those of the same offering that suit in level and instructor, and hold every date, by
    weekday.

    Hours that the family marks “never” and a minor's night are left out. None while the family is
    being asked about an exchange. As many queries for any number of places.
    """
    term, offering = place.term, place.offering_id
    others = ~Q(student=place.student_id) & ~Q(student__in=_family(place.student))
    rows = exchangeable(term).filter(Q(pk=place.pk) | others, offering=offering)
    wish = PlaceWish.objects.filter(order__place=place.pk, wished=OuterRef("pk"))
    places = {row.pk: row for row in as_open(rows, Subquery(wish.values("rank")))}
    if place.pk not in places:
        return []
    taught = who_teaches([offering])
    times = times_offered(places.values(), taught).get(offering, {})
    mine = times.get(place.pk)
    if mine is None:
        return []
    fitting = [pk for pk, time in times.items() if is_compatible(mine, time)]
    named = [places[pk] for pk in (place.pk, *fitting)]
    student = student_time(place.student, *around_term(term, now), with_hours=True)
    prefetch_related_objects([term], "breaks")
    problem = problem_among(
        tuple(times.values()), term, named, taught, {place.student_id: student}, now=now
    )
    found = [
        OtherTime(
            place_id=pk,
            instructor=taught[places[pk].instructor_id, offering].instructor,
            time_zone=places[pk].zone,
            option=option,
            rank=places[pk].rank,
        )
        for pk, option in problem.whole_times(place.pk, fitting).items()
    ]
    found.sort(key=lambda one: (one.option.at.weekday, one.option.at.minute, one.place_id))
    return found


def _family(student: Student) -> QuerySet[Any, Any]:
    """Who shares an answering guardian with the student, by id: a part of another query."""
    answering = Guardianship.objects.answering()
    guardians = answering.filter(student=student).order_by().values("guardian")
    siblings = answering.filter(guardian__in=guardians).student_ids()
    return Student.objects.filter(pk__in=siblings).order_by().values("pk")
