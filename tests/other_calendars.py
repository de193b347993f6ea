"""Other calendars of the tests' people, written through the operations."""

from datetime import timedelta

from accounts.models import Instructor, Student
from bookings import door
from bookings.domain.timeline import Period
from bookings.models import BusyCalendar
from bookings.operations import busy as operations
from bookings.operations.busy import Copy
from tests.cast import NOW

URL = "https://calendar.rowanmere.example/noor.ics?key=canary-7d31"


def a_copy(*periods: Period, **fields: object) -> Copy:
    return Copy(
        periods=periods,
        covers_until=NOW + timedelta(days=366),
        unknown_zones=0,
        digest="d",
        time_zone="Europe/Dublin",
        **fields,
    )  # type: ignore[arg-type]


def add_file(person: Instructor | Student, *periods: Period) -> BusyCalendar:
    actor = person.user or person.guardians.get()  # type: ignore[union-attr]
    return door.write(
        lambda: operations.add_file(
            actor=actor, person=person, name="Orchestra", copy=a_copy(*periods), now=NOW
        ),
        now=NOW,
    )


def add_address(person: Instructor | Student) -> BusyCalendar:
    return door.write(
        lambda: operations.add_address(
            actor=person.user,
            person=person,
            name="Choir",
            address=URL,
            host="calendar.rowanmere.example",
            now=NOW,
        ),
        now=NOW,
    )
