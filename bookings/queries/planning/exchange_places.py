"""The weekly places of a term that can change hands, and the times that they have."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import tzinfo
from typing import Any, NamedTuple

from django.db.models import QuerySet

from bookings.domain.planning.exchanges import WeeklyTime
from bookings.models import ExchangeMove, Teaches, Term, WeeklyPlace
from bookings.queries.teaching import zone_of_hours

Taught = Mapping[tuple[int, int], Teaches]
"""Who teaches what, with the instructor and the offering, by the ids of both."""


class OpenPlace(NamedTuple):
    """A weekly place that can change hands.

    `level` and `user_id` are its student's; None without an account. `rank` is the place's in an
    order that is read with it.
    """

    pk: int
    weekday: int
    wall_at: int
    time_zone: tzinfo
    student_id: int
    level: int
    user_id: int | None
    instructor_id: int
    offering_id: int
    rank: int | None = None

    @property
    def zone(self) -> str:
        """The IANA name of the zone of the promised wall time."""
        return str(self.time_zone)


_COLUMNS = (
    "pk",
    "weekday",
    "wall_at",
    "time_zone",
    "student",
    "student__level",
    "student__user",
    "instructor",
    "offering",
)


def exchangeable(term: Term) -> QuerySet[WeeklyPlace]:
    """The places of a term that go on and that no open exchange concerns, by id."""
    asked = ExchangeMove.objects.filter(exchange__ended_at__isnull=True).order_by()
    rows = WeeklyPlace.objects.not_ended().filter(term=term, instructor__is_active=True)
    return rows.exclude(pk__in=asked.values("place")).order_by("pk")


def as_open(places: QuerySet[WeeklyPlace], *more: Any) -> list[OpenPlace]:
    """These places as plain values, with what reads `rank`, if anything does.

    A term has a thousand, and as many instructors and students would take most of a page's time.
    """
    return [OpenPlace(*row) for row in places.values_list(*_COLUMNS, *more)]


def who_teaches(offerings: Collection[int]) -> Taught:
    """Who teaches these offerings: one query."""
    rows = Teaches.objects.filter(offering__in=offerings)
    people = ("instructor__user", "instructor__week")
    return {
        (row.instructor_id, row.offering_id): row
        for row in rows.select_related("offering", *people)
    }


def times_offered(places: Iterable[OpenPlace], taught: Taught) -> dict[int, dict[int, WeeklyTime]]:
    """The times of these places that can change hands, by offering and place.

    A lesson is exchanged for one of the same offering. A place whose instructor has changed the
    zone of their hours since has another time by now. A family accepts whoever teaches a time that
    it names.
    """
    teachers = {row.instructor_id: row.instructor for row in taught.values()}
    zones = {pk: zone_of_hours(teacher) for pk, teacher in teachers.items()}
    users, everybody = {teacher.user_id for teacher in teachers.values()}, tuple(teachers)
    found: dict[int, dict[int, WeeklyTime]] = defaultdict(dict)
    for place in places:
        row = taught.get((place.instructor_id, place.offering_id))
        if row is None or place.zone != zones[place.instructor_id]:
            continue
        accepted = everybody
        if place.user_id in users:  # nobody teaches themselves
            accepted = tuple(pk for pk, one in teachers.items() if one.user_id != place.user_id)
        found[place.offering_id][place.pk] = WeeklyTime(
            place_id=place.pk,
            minutes=row.offering.minutes,
            instructor_id=place.instructor_id,
            level=place.level,
            lowest_level=row.lowest_level,
            highest_level=row.highest_level,
            instructors=accepted,
        )
    return found
