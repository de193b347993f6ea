"""One small school for the API's tests: two instructors, two students, a minor with their guardian,
an admin.
"""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from accounts.models import Instructor, Student, User
from bookings.domain.timeline import rfc3339
from bookings.domain.vocabulary import Kind, NoteState
from bookings.models import Assessment, Meeting, Offering
from tests import cast
from tests.cast import NOW, at
from tests.functional.api.client import Api

FRIDAY = at("2027-03-05T15:00:00Z")
"""Friday 15:00 in Dublin, 10:00 in New York, Saturday 02:00 in Sydney."""
FOR_POSY = at("2027-03-05T09:00:00Z")
"""Friday 09:00 in Dublin, 20:00 in Sydney: humane for a child there."""


@dataclass(frozen=True, slots=True)
class School:
    consultation: Offering
    group: Offering
    masterclass: Offering
    ilse: Instructor
    wren: Instructor
    noor: Student
    marlo: Student
    posy: Student
    hedda: User
    dag: User

    def slot(self, **changes: Any) -> dict[str, Any]:
        """A body that books Ilse on Friday."""
        return {
            "offering": self.consultation.pk,
            "instructor": self.ilse.pk,
            "starts_at": rfc3339(FRIDAY),
            **changes,
        }

    def booked(self, who: User | None = None, **changes: Any) -> dict[str, Any]:
        """A one-on-one booked over the API: Noor's with Ilse on Friday unless changed."""
        reply = Api(who or self.noor.user).post("bookings/", self.slot(**changes))
        assert reply.status == 201, reply.body
        return reply.json

    def class_on(
        self, places: int = 2, starts_at: Any = FRIDAY + timedelta(days=5), **fields: Any
    ) -> Meeting:
        """A group meeting of Ilse's, next Wednesday."""
        return cast.make_meeting(
            self.group, self.ilse, starts_at, places=places, title="Chords that speak", **fields
        )

    def released(
        self, student: Student, author: Instructor, *, remarks: str = "", **says: Any
    ) -> Assessment:
        """An assessment released yesterday."""
        note = cast.make_assessment(student, author, **says)
        note.private_remarks = remarks
        note.state, note.released_at = NoteState.RELEASED, NOW - timedelta(days=1)
        note.save()
        return note


def make_school() -> School:
    cast.make_policy()
    offerings = (
        cast.make_offering(),
        cast.make_offering("Studio class", Kind.GROUP_MEETING, 50),
        cast.make_offering("Masterclass", Kind.MASTERCLASS, 90),
    )
    ilse, wren = cast.make_instructor(), cast.make_instructor("Wren Halloway", "America/New_York")
    for person in (ilse, wren):
        cast.teaches(person, *offerings)
        cast.publish(person, cast.EVERY_DAY)
    posy = cast.make_minor()
    return School(
        *offerings,
        ilse=ilse,
        wren=wren,
        noor=cast.make_student(),
        marlo=cast.make_student("Marlo Vance"),
        posy=posy,
        hedda=posy.guardians.get(),
        dag=cast.make_admin(),
    )
