"""Days away: those ahead, the meetings that stand on such days, and those called off for them."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from hashlib import sha256

from django.db.models import F, Q

from accounts.models import Instructor, Student, User
from bookings.access import name_for
from bookings.domain.timeline import EPOCH, Period
from bookings.domain.vocabulary import Ended
from bookings.domain.wall import day_edges
from bookings.domain.zones import zone
from bookings.models import LIVE, Booking, DaysAway, Meeting, ProposedTimes, WaitingPlace
from bookings.notices import by_reader
from bookings.queries.teaching import zone_of_hours

_Place = Booking | WaitingPlace
Concerned = _Place | ProposedTimes


@dataclass(frozen=True, slots=True)
class InTheWay:
    """A meeting in hours that its instructor cannot teach.

    `names` are booked in it or wait for it; `told` get an email of what becomes of it.
    """

    meeting: Meeting
    names: list[str]
    told: list[str]


@dataclass(frozen=True, slots=True)
class Preview:
    """The meetings that stand in the way, by start; `seen` is a digest of them."""

    in_the_way: list[InTheWay]
    seen: str


def days_away_ahead(instructor: Instructor, *, now: datetime) -> list[DaysAway]:
    """Those that are not over, as the instructor's own calendar counts days."""
    today = now.astimezone(zone(zone_of_hours(instructor))).date()
    return list(DaysAway.objects.filter(instructor=instructor, last_on__gte=today))


def days_period(first_on: date, last_on: date, time_zone: str) -> Period:
    """From the midnight before the first of these days to the midnight after the last."""
    first, last = (on - EPOCH.date() for on in (first_on, last_on))
    edges = day_edges(time_zone, first.days, last.days + 1)
    return Period(*(EPOCH + timedelta(seconds=edge) for edge in (edges[0], edges[-1])))


def meetings_in_the_way(
    instructor: Instructor, *, since: datetime, until: datetime | None, now: datetime
) -> list[Meeting]:
    """The meetings still to begin that reach into [since, until), by start."""
    found = Meeting.objects.not_called_off().taught_by(instructor).ahead(now).ending_after(since)
    if until is not None:
        found = found.filter(starts_at__lt=until)
    rows = found.select_related("offering", "instructor__user")
    return list(rows.order_by("starts_at", "pk"))


def preview_of(meetings: Sequence[Meeting], *, reader: User, now: datetime) -> Preview:
    """Who is in these meetings and who is told of their end, as `reader` may see it."""
    places = _places_in(meetings)
    rows = [
        InTheWay(
            meeting,
            _once(name_for(reader, place.student, now) for place in places[meeting.pk]),
            _told(reader, places[meeting.pk], now),
        )
        for meeting in meetings
    ]
    return Preview(rows, seen_of(meetings))


def seen_of(meetings: Collection[Meeting]) -> str:
    """A digest of these meetings with everybody in them.

    It changes when the list does, so nobody calls off more than they have read.
    """
    places = _places_in(meetings)
    lines = sorted(
        f"{meeting.pk} {meeting.starts_at.timestamp()} "
        + " ".join(sorted(f"{type(row).__name__}{row.pk}" for row in places[meeting.pk]))
        for meeting in meetings
    )
    return sha256("\n".join(lines).encode()).hexdigest()


def called_off_for(away: DaysAway, *, now: datetime) -> list[Meeting]:
    """The meetings ahead that were called off when these days away were added, by start."""
    if away.called_off_at is None:
        return []
    called_off = Meeting.objects.called_off().taught_by(away.instructor).ahead(now)
    rows = called_off.filter(changed_at=away.called_off_at)  # one step wrote both instants
    return list(rows.select_related("offering", "instructor__user").order_by("starts_at", "pk"))


def who_was_in(meetings: Collection[Meeting]) -> dict[int, list[Student]]:
    """By meeting, the students in it now and those who were when it was called off."""
    rows = Booking.objects.in_meetings(meetings).filter(
        Q(standing__in=LIVE) | Q(ended_why=Ended.CALLED_OFF, ended_at=F("meeting__changed_at"))
    )
    found: dict[int, list[Student]] = {meeting.pk: [] for meeting in meetings}
    for row in rows.select_related("student__user").order_by("pk"):
        found[row.meeting_id].append(row.student)
    return found


def students_in(meetings: Collection[Meeting]) -> list[Student]:
    """The students who are booked in these meetings, are offered a place, or wait."""
    places = _places_in(meetings)
    found = {row.student_id: row.student for rows in places.values() for row in rows}
    return list(found.values())


def places_in(meetings: Collection[Meeting]) -> list[_Place]:
    """Every place in these meetings that is booked, offered or waited for."""
    return [row for rows in _places_in(meetings).values() for row in rows]


def _places_in(meetings: Collection[Meeting]) -> dict[int, list[_Place]]:
    found: dict[int, list[_Place]] = {meeting.pk: [] for meeting in meetings}
    booked = Booking.objects.in_meetings(meetings).live()
    waiting = WaitingPlace.objects.for_meetings(meetings).waiting()
    for held in booked.select_related("student__user"):
        found[held.meeting_id].append(held)
    for place in waiting.select_related("student__user"):
        found[place.meeting_id].append(place)
    return found


def _told(reader: User, places: list[_Place], now: datetime) -> list[str]:
    names = readers_as(reader, places, now=now).values()
    return _once(name for theirs in names for name in theirs)


def readers_as(
    reader: User, places: Iterable[Concerned], *, now: datetime
) -> dict[User, list[str]]:
    """Who gets the emails about these places and times proposed, as `reader` may call them:
    students by name, guardians by name only where the reader is an admin.
    """
    places = list(places)
    booked = by_reader([row for row in places if isinstance(row, Booking)], now)
    waiting = by_reader([row for row in places if isinstance(row, WaitingPlace)], now)
    proposed = by_reader([row for row in places if isinstance(row, ProposedTimes)], now)
    found = {}
    for person in {**booked, **waiting, **proposed}:
        theirs: list[Concerned] = [*booked.get(person, []), *waiting.get(person, [])]
        theirs += proposed.get(person, [])
        found[person] = _once(_named(reader, person, one, now) for one in theirs)
    return found


def _named(reader: User, person: User, place: Concerned, now: datetime) -> str:
    name = name_for(reader, place.student, now)
    if place.student.user_id == person.pk:
        return name
    return f"{person.name}, for {name}" if reader.is_staff else f"a guardian of {name}"


def _once(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))
