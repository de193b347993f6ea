"""What the calls of the authorisation matrix send."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from bookings.models import Booking, Meeting
from tests import cast
from tests.cast import NOW
from tests.functional.api.school import FRIDAY
from tests.functional.api.world import World, number

Cells = tuple[int, int, int, int, int, int]


@dataclass(frozen=True, slots=True)
class Route:
    """One verb at one address: its path, its body, and the status for each of ROLES.

    Nobody signed in is always 401.
    """

    path: Callable[[World], str]
    cells: Cells
    body: Callable[[World], Any] = lambda world: None


def everybody(status: int) -> Cells:
    return (status,) * 6


def note_body(world: World) -> dict[str, Any]:
    return {"student": world.learner.pk, "level": 4, "unit": 2}


def lesson_over(world: World) -> Booking:
    """A consultation of three days ago, made once."""
    starts_at = NOW - timedelta(days=3)
    found = Booking.objects.of(world.learner).filter(starts_at=starts_at).first()
    meeting = world.school.consultation, world.school.ilse, starts_at
    return found or cast.make_booking(cast.make_meeting(*meeting), world.learner)


def chosen_players(world: World) -> Meeting:
    """A group meeting for which the school chooses the players, made once; the learner applied."""
    found = Meeting.objects.filter(players_are_chosen=True).first()
    if found is not None:
        return found
    later = {"starts_at": FRIDAY + timedelta(days=11), "players_are_chosen": True}
    made = world.school.class_on(**later)
    made.waiting.create(student=world.learner, place_kind="player", joined_at=NOW)
    return made


def tick_body(world: World) -> dict[str, Any]:
    return {"plan": world.released.pk, "item": 0, "on": "2027-03-01"}


def class_body(world: World) -> dict[str, Any]:
    when = (FRIDAY + timedelta(days=20)).isoformat()
    return {
        "offering": world.school.group.pk,
        "instructor": world.school.ilse.pk,
        "title": "New",
        "places": 3,
        "starts_at": when,
    }


TERM = {
    "name": "Summer 2027",
    "first_on": "2027-04-19",
    "last_on": "2027-07-09",
    "lessons_promised": 11,
}


def weekly_body(world: World) -> dict[str, Any]:
    at = {"weekday": "TH", "wall_time": "12:00"}
    place = world.weekly
    whose = {
        "term": place.term_id,
        "offering": place.offering_id,
        "instructor": place.instructor_id,
        "student": place.student_id,
    }
    return {**whose, **at}


AVAILABILITY = """BEGIN:VCALENDAR
BEGIN:VAVAILABILITY
BEGIN:AVAILABLE
DTSTART;TZID=Europe/Dublin:20270301T153000
DTEND;TZID=Europe/Dublin:20270301T203000
RRULE:FREQ=WEEKLY
END:AVAILABLE
END:VAVAILABILITY
END:VCALENDAR
"""
WEEK = {"time_zone": "Europe/Dublin", "windows": []}


def unknown_account(_: Any) -> dict[str, Any]:
    """Somebody else each time: wrong passwords at one account are soon too many."""
    return {"email": f"x{next(number)}@rowanmere.example", "password": "x"}
