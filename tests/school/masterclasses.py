"""A masterclass with four players of levels 2, 5, 3 and 7, and a listener."""

from datetime import datetime, timedelta
from typing import Any

from accounts.models import Instructor, Student
from bookings.domain.vocabulary import Kind, PlaceKind
from bookings.door import write
from bookings.models import Booking, Intake, Meeting, Offering
from bookings.operations.agendas import PlayerSaid, publish_agenda, say_leaves_by
from tests import cast
from tests.cast import NOW, at

STARTS_AT = at("2027-03-06T15:00Z")
"""Saturday 6 March 2027, 15:00 in Dublin, 10:00 in New York."""
NAMES = ("Marlo Vance", "Noor Ashgrove", "Oona Brack", "Asha Merrow")
LEVELS = (2, 5, 3, 7)


class MasterclassSchool:
    """Ilse teaches a masterclass of 90 minutes. The players booked in the order of NAMES; Tamsin
    listens. All are grown up; Noor lives in New York, the others in Dublin.
    """

    def __init__(self) -> None:
        cast.make_policy()
        self.dag = cast.make_admin()
        self.ilse = cast.make_instructor()
        self.masterclass = cast.make_offering("Masterclass", Kind.MASTERCLASS, 90)
        cast.teaches(self.ilse, self.masterclass)
        cast.publish(self.ilse, cast.EVERY_DAY)
        self.meeting = self.meeting_at(STARTS_AT)
        self.places = []
        for number, (name, level) in enumerate(zip(NAMES, LEVELS, strict=True)):
            zone = "America/New_York" if name.startswith("Noor") else "Europe/Dublin"
            student = cast.make_student(name, zone, level=level)
            self.places.append(self.place(student, booked_at=NOW + timedelta(minutes=number)))
        self.marlo, self.noor, self.oona, self.asha = self.places
        self.tamsin = cast.make_student("Tamsin Reed", "Europe/Dublin", level=1)
        self.listening = self.place(self.tamsin, place_kind=PlaceKind.LISTENER)

    def meeting_at(self, starts_at: datetime) -> Meeting:
        """A masterclass of Ilse's with eight player and eight listener places."""
        more = {"places": 8, "listener_places": 8, "title": "Étude and encore"}
        return cast.make_meeting(self.masterclass, self.ilse, starts_at, **more)

    def place(self, student: Student, meeting: Meeting | None = None, **more: Any) -> Booking:
        return cast.make_booking(meeting or self.meeting, student, **more)

    def publish(self, said: dict[int, PlayerSaid] | None = None, **more: Any) -> Meeting:
        now = more.pop("now", NOW)
        act = {"actor": self.dag, "meeting": self.meeting, "said": said or {}, **more}
        done = write(lambda: publish_agenda(**act, now=now), now=now)
        for place in self.places:
            place.refresh_from_db()
        return done

    def leaves(self, booking: Booking, minutes: int | None) -> Booking:
        """The player has to be done so many minutes after the start."""
        leaves_by = None if minutes is None else STARTS_AT + timedelta(minutes=minutes)
        actor = cast.user_of(booking.student)
        return write(
            lambda: say_leaves_by(actor=actor, booking=booking, leaves_by=leaves_by, now=NOW),
            now=NOW,
        )


def masterclass_place(instructor: Instructor, student: Student, turn: int | None = None) -> Booking:
    """A player's place in a masterclass on 14 March 2027, 19:00 in Dublin, with what they bring."""
    offering, _ = Offering.objects.get_or_create(
        name="Open masterclass", kind=Kind.MASTERCLASS, minutes=90
    )
    meeting = cast.make_meeting(offering, instructor, at("2027-03-14T19:00Z"), places=4)
    played = {"turn": turn, "turn_minutes": 15, "turn_early": "leaves"} if turn else {}
    booking = cast.make_booking(meeting, student, **played)
    Intake.objects.create(booking=booking, pieces="Study in G", written_at=NOW)
    return booking
