"""A school in which somebody is to leave, and what must be so afterwards."""

from datetime import timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind, Standing
from bookings.door import write
from bookings.models import AuditRow, Booking, Meeting, OutboxMessage, WaitingPlace
from bookings.queries.places_audit import findings
from tests import cast
from tests.cast import NOW, at
from tests.school.weekly import weekly_place

WHY = "Posy’s family is moving away."


class School:
    """Posy and Noor each have a lesson, a weekly place, a place in a class, an offer and a place on
    a waiting list.
    """

    def __init__(self) -> None:
        cast.make_policy()
        self.dag = cast.make_admin()
        self.ilse = cast.make_instructor()
        self.lesson = cast.make_offering()
        self.group = cast.make_offering("Studio class", Kind.GROUP_MEETING, 50)
        cast.teaches(self.ilse, self.lesson, self.group)
        self.hedda = cast.make_user("Hedda Lindqvist-Reed", "Australia/Sydney")
        self.posy = cast.make_minor(guardian=self.hedda)
        self.noor = cast.make_student()
        self.marlo = cast.make_student("Marlo Vance")

    def fill(self, student) -> None:
        """One of everything ahead, and a lesson that has been."""
        cast.make_booking(self.meeting(self.lesson, "2027-02-09T10:00Z"), student)
        cast.make_booking(self.meeting(self.lesson, "2027-03-09T10:00Z"), student)
        weekly_place(self.ilse, student)
        full = self.meeting(self.group, "2027-03-10T10:00Z", places=1)
        cast.make_booking(full, student)
        full.waiting.create(student=self.marlo, place_kind="player", joined_at=NOW)
        other = self.meeting(self.group, "2027-03-11T10:00Z", places=1)
        waiting = other.waiting.create(student=student, place_kind="player", joined_at=NOW)
        cast.make_booking(
            other,
            student,
            standing=Standing.OFFERED,
            answer_by=NOW + timedelta(hours=20),
            waiting_place=waiting,
        )
        wanted = self.meeting(self.group, "2027-03-12T10:00Z", places=1)
        cast.make_booking(wanted, self.marlo)
        wanted.waiting.create(student=student, place_kind="player", joined_at=NOW)

    def meeting(self, offering, starts_at, **fields) -> Meeting:
        return cast.make_meeting(offering, self.ilse, at(starts_at), **fields)

    def do(self, act, **what):
        return write(lambda: act(actor=self.dag, now=NOW, **what), now=NOW)

    def refused(self, code, act, **what) -> Refused:
        before = AuditRow.objects.count(), OutboxMessage.objects.count(), live()
        with pytest.raises(Refused) as caught:
            self.do(act, **what)
        assert caught.value.code == code, caught.value
        assert (AuditRow.objects.count(), OutboxMessage.objects.count(), live()) == before
        return caught.value


def live(student=None) -> tuple[int, int]:
    """How many bookings ahead and waiting places there are."""
    bookings = Booking.objects.filter(standing__in=["HELD", "OFFERED"], starts_at__gt=NOW)
    waiting = WaitingPlace.objects.filter(ended_at__isnull=True)
    if student is not None:
        bookings, waiting = bookings.filter(student=student), waiting.filter(student=student)
    return bookings.count(), waiting.count()


def is_settled(school: School, student) -> None:
    """Nothing is left ahead, what was free went to who waited, and every counter is right."""
    assert live(student) == (0, 0)
    assert not student.weekly_places.filter(ended_at__isnull=True).exists()
    assert Booking.objects.get(student=student, starts_at__lt=NOW).standing == Standing.HELD
    assert Booking.objects.filter(student=school.marlo, standing=Standing.OFFERED).count() == 1
    assert list(findings()) == []
