"""What Times that suit needs: who teaches what at a level, and which consultations are open."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from accounts.models import Instructor, Student
from bookings.domain.policy import Policy, check_allowance
from bookings.domain.vocabulary import Kind
from bookings.models import ONE_ON_ONE, Booking, Offering, Teaches


@dataclass(frozen=True, slots=True)
class Taught:
    """The one-on-ones that are taught at a level, by kind and name.

    `instructors` holds who teaches each, by the offering's id.
    """

    level: int
    offerings: list[Offering]
    instructors: dict[int, list[Instructor]]

    def offering(self, pk: int) -> Offering | None:
        return next((row for row in self.offerings if row.pk == pk), None)

    def instructor(self, offering: Offering | None, pk: int) -> Instructor | None:
        """The one of that id, if they teach this offering."""
        people = self.instructors.get(offering.pk, []) if offering else []
        return next((person for person in people if person.pk == pk), None)

    def everybody(self) -> list[Instructor]:
        """Each who teaches one of the offerings, by name."""
        found = {
            person.pk: person
            for offering in self.offerings
            for person in self.instructors[offering.pk]
        }
        return sorted(found.values(), key=lambda person: (person.user.name, person.pk))

    def only(self, offerings: Sequence[Offering]) -> "Taught":
        """The same with no other offerings than these."""
        kept = [row for row in self.offerings if row in offerings]
        return Taught(self.level, kept, self.instructors)

    def of_kind(self, kind: Kind) -> "Taught":
        return self.only([row for row in self.offerings if row.kind == kind])


def taught_to(student: Student) -> Taught:
    """What can be booked at the student's level, and with whom; one query.

    Students who also teach are not offered themselves.
    """
    rows = (
        Teaches.objects.by_people_here()
        .at_level(student.level)
        .filter(offering__is_open=True, offering__kind__in=ONE_ON_ONE)
        .select_related("offering", "instructor__user", "instructor__week")
        .order_by("offering__kind", "offering__name", "offering", "instructor")
    )
    offerings: dict[int, Offering] = {}
    instructors: dict[int, list[Instructor]] = {}
    for row in rows:
        if row.instructor.user_id != student.user_id:
            offerings.setdefault(row.offering_id, row.offering)
            instructors.setdefault(row.offering_id, []).append(row.instructor)
    return Taught(student.level, list(offerings.values()), instructors)


@dataclass(frozen=True, slots=True)
class Allowance:
    """How many consultations may be open at once, and those that are, by start."""

    most: int
    open: list[Booking]

    @property
    def left(self) -> int:
        return max(0, self.most - len(self.open))


def allowance(
    student: Student, offering: Offering, policy: Policy, *, now: datetime
) -> Allowance | None:
    """How much of the offering's allowance the student has open, or None if it has no allowance.

    One query.
    """
    if offering.kind != Kind.CONSULTATION:
        return None
    ahead = Booking.objects.of(student).held().ahead(now)
    rows = ahead.filter(meeting__offering__kind=Kind.CONSULTATION)
    return Allowance(policy.open_consultations, list(rows.order_by("starts_at")))


def check_open(student: Student, offering: Offering, policy: Policy, *, now: datetime) -> None:
    """Refused("allowance-used") if no further consultation may be booked now, whatever its time."""
    found = allowance(student, offering, policy, now=now)
    if found is not None:
        check_allowance(len(found.open), policy)
