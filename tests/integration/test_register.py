"""The register: marked in one act, and every correction kept beside the first entry."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance, Kind
from bookings.door import write
from bookings.models import AuditRow, Booking, Mark, Meeting, RegisterEntry, guards
from bookings.operations.register import mark_register
from tests import cast
from tests.cast import NOW

pytestmark = pytest.mark.django_db
PRESENT, LATE = Attendance.PRESENT, Attendance.LATE
WITH_NOTICE = Attendance.ABSENT_WITH_NOTICE
LATER = NOW + timedelta(hours=1)


class Begun:
    """A studio class that begins now, with Noor and Marlo in it."""

    def __init__(self) -> None:
        cast.make_policy()
        self.ilse, self.dag = cast.make_instructor(), cast.make_admin()
        offering = cast.make_offering("Studio class", Kind.GROUP_MEETING, 60)
        self.meeting = cast.make_meeting(offering, self.ilse, NOW, places=3)
        self.noor, self.marlo = (
            cast.make_booking(self.meeting, cast.make_student(name))
            for name in ("Noor Ashgrove", "Marlo Vance")
        )

    def mark(self, *marks, others=None, by=None, now=NOW) -> Meeting:
        said = {booking.pk: attendance for booking, attendance in marks}
        actor = by or self.ilse.user
        return write(
            lambda: mark_register(
                actor=actor, meeting=self.meeting, marks=said, others=others, now=now
            ),
            now=now,
        )


@pytest.fixture
def begun() -> Begun:
    return Begun()


def word(booking: Booking) -> str:
    return Mark.objects.get(booking=booking).attendance


def entries(booking: Booking) -> list[tuple]:
    rows = RegisterEntry.objects.filter(booking=booking)
    return [(row.attendance, row.entered_by, row.entered_at) for row in rows]


def test_all_present_in_one_act(begun: Begun) -> None:
    """One word for everybody, one audit row."""
    begun.mark(others=PRESENT)
    assert (word(begun.noor), word(begun.marlo)) == (PRESENT, PRESENT)
    assert AuditRow.objects.filter(verb="marked").count() == 1


def test_the_rest_leaves_who_is_marked_as_they_are(begun: Begun) -> None:
    """Exceptions may come first, with it, or after it."""
    begun.mark((begun.noor, LATE))
    begun.mark(others=PRESENT)
    assert (word(begun.noor), word(begun.marlo)) == (LATE, PRESENT)
    assert len(entries(begun.noor)) == 1


def test_exceptions_and_the_rest_go_together(begun: Begun) -> None:
    """One act says who was late, and that everybody else was present."""
    begun.mark((begun.marlo, LATE), others=PRESENT)
    assert (word(begun.noor), word(begun.marlo)) == (PRESENT, LATE)


def test_a_correction_is_kept_beside_the_first_entry(begun: Begun) -> None:
    """The mark says the present word; both entries say who entered what, and when."""
    begun.mark((begun.noor, WITH_NOTICE), by=begun.dag)
    begun.mark((begun.noor, PRESENT), now=LATER)
    assert word(begun.noor) == PRESENT
    assert entries(begun.noor) == [
        (WITH_NOTICE, begun.dag, NOW),
        (PRESENT, begun.ilse.user, LATER),
    ]


def test_saying_the_same_again_is_no_correction(begun: Begun) -> None:
    """A register that is saved twice keeps its version, its time and one entry a student."""
    first = begun.mark(others=PRESENT)
    again = begun.mark((begun.noor, PRESENT), others=PRESENT, now=LATER)
    assert again.version == first.version
    assert Mark.objects.filter(marked_at=NOW).count() == 2
    assert RegisterEntry.objects.count() == 2


@pytest.mark.parametrize("act", ["change", "delete"])
def test_an_entry_is_neither_changed_nor_deleted(begun: Begun, act: str) -> None:
    """The database itself refuses, whoever asks."""
    begun.mark(others=PRESENT)
    rows = RegisterEntry.objects.all()
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        rows.update(attendance=LATE) if act == "change" else rows._raw_delete(rows.db)
    refusal = guards.as_refusal(caught.value)
    assert refusal is not None
    assert refusal.code == "not-allowed"
    assert RegisterEntry.objects.filter(attendance=PRESENT).count() == 2


def test_a_refused_register_leaves_nothing_behind(begun: Begun) -> None:
    """A stranger among the marks: neither a mark nor an entry is written."""
    elsewhere = cast.make_booking(
        cast.make_meeting(begun.meeting.offering, begun.ilse, NOW + timedelta(days=1)),
        cast.make_student("Juno Petrel"),
    )
    with pytest.raises(Refused) as caught:
        begun.mark((begun.noor, LATE), (elsewhere, LATE), others=PRESENT)
    assert (caught.value.code, caught.value.data["strangers"]) == ("invalid", [elsewhere.pk])
    assert not Mark.objects.exists()
    assert not RegisterEntry.objects.exists()
