"""The school of the golden mails, in which every key is fixed."""

from datetime import date
from typing import Any
from uuid import UUID

from accounts.models import User
from bookings import notices
from bookings.domain.vocabulary import Kind
from bookings.models import (
    Booking,
    Meeting,
    Term,
    WeeklyPlace,
)
from tests import cast
from tests.cast import NOW, at
from tests.letters import keep

FIRST_KEY = 7_100_000  # far above what a database counts up to in tests
ROOM = "https://rooms.rowanmere.example/ilse?a=1&b=2"

_FIRST_CHILD = 7_300_001


class School:
    """Ilse in Dublin and Wren in New York teach; Noor, Marlo and Hedda's Posy and Kit learn.

    All keys are fixed, so mails are.
    """

    def __init__(self) -> None:
        self._key = FIRST_KEY
        cast.make_policy()
        self.dag = self.user("Dag Emberley", "Europe/Dublin")
        self.ilse = cast.make_instructor(
            "Ilse Quarrow", "Europe/Dublin", pk=self.key(), email="ilse@rowanmere.example"
        )
        self.wren = cast.make_instructor(
            "Wren Halloway", "America/New_York", pk=self.key(), email="wren@rowanmere.example"
        )
        self.noor = cast.make_student(pk=self.key(), email="noor@ashgrove.example")
        self.marlo = cast.make_student(
            "Marlo Vance", "Europe/London", pk=self.key(), email="marlo@vance.example"
        )
        self.hedda = self.user("Hedda Lindqvist-Reed", "Australia/Lord_Howe")
        of_hedda: Any = {"time_zone": "Australia/Lord_Howe", "guardian": self.hedda}
        self.posy = cast.make_minor("Posy Lindqvist-Reed", **of_hedda, pk=_FIRST_CHILD)
        self.kit = cast.make_minor("Kit Lindqvist-Reed", **of_hedda, pk=_FIRST_CHILD + 1)
        self.consultation = cast.make_offering()
        self.circle = cast.make_offering("Group meeting", Kind.GROUP_MEETING, 60)
        self.masterclass = cast.make_offering("Masterclass", Kind.MASTERCLASS, 90)

    def key(self) -> int:
        self._key += 1
        return self._key

    def user(self, name: str, time_zone: str) -> User:
        return cast.make_user(
            name, time_zone, pk=self.key(), email=f"{name.split()[0].lower()}@rowanmere.example"
        )

    def meeting(
        self,
        offering: object = None,
        starts_at: str = "2027-03-15T21:00Z",
        teacher: object = None,
        **fields: object,
    ) -> Meeting:
        pk = self.key()
        fields = {"uid": UUID(int=pk, version=4), "join_address": ROOM, **fields}
        return cast.make_meeting(
            offering or self.consultation, teacher or self.ilse, at(starts_at), pk=pk, **fields
        )

    def group(self, **fields: object) -> Meeting:
        return self.meeting(
            self.circle,
            "2027-03-19T19:00Z",
            title="Hands together, slowly",
            **{"places": 6, **fields},
        )

    def booking(self, meeting: Meeting, student: object, **fields: object) -> Booking:
        return cast.make_booking(
            meeting, student, **{"pk": self.key(), "partstat": "ACCEPTED", **fields}
        )

    def booked(self, starts_at: str = "2027-03-15T21:00Z") -> Booking:
        """Noor's consultation, sent to their calendar and to Ilse's."""
        booking = self.booking(self.meeting(starts_at=starts_at), self.noor)
        keep(notices.booking_made(booking, now=NOW), NOW)
        return booking

    def in_group(self, *students: object, **fields: object) -> list[Booking]:
        """Their places in the group meeting, sent to every calendar."""
        meeting = self.group(**fields)
        keep(notices.meeting_made(meeting, now=NOW), NOW)
        bookings = [self.booking(meeting, student) for student in students]
        for booking in bookings:
            keep(notices.booking_made(booking, now=NOW), NOW)
        return bookings

    def weekly(self, starts: list[str], wall_at: int = 18 * 60) -> notices.Taken:
        """Noor's Mondays with Ilse, in a term that crosses both spring changes."""
        term = Term.objects.create(
            name=f"Spring {self.key()}",
            first_on=date(2027, 3, 1),
            last_on=date(2027, 4, 12),
            lessons_promised=6,
        )
        term.name = "Spring term"
        row = {
            "term": term,
            "student": self.noor,
            "instructor": self.ilse,
            "offering": self.consultation,
            "weekday": 0,
        }
        policy = cast.StudioPolicy.objects.get()
        time_zone = self.ilse.user.time_zone
        place = WeeklyPlace.objects.create(
            pk=self.key(),
            **row,
            wall_at=wall_at,
            promised=len(starts),
            time_zone=time_zone,
            policy=policy,
            made_at=NOW,
        )
        return notices.Taken(
            place,
            [
                self.booking(self.meeting(starts_at=start, weekly_place=place), self.noor)
                for start in starts
            ],
        )
