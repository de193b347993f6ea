"""The morning after: an instructor is asked once for what is still open from the day before."""

from datetime import timedelta

import pytest

from bookings import outbox
from bookings.domain.vocabulary import Attendance, Kind
from bookings.models import OutboxMessage
from bookings.operations import follow_ups, notes
from bookings.operations.register import mark_register
from tests import cast
from tests.cast import at

pytestmark = pytest.mark.django_db

TAUGHT = at("2027-03-12T16:00Z")  # Friday 16:00 in Dublin
MORNING = at("2027-03-13T08:00Z")


class Friday:
    """Ilse's Friday: a consultation with Noor and a studio class with Marlo and Posy, who is a
    minor.
    """

    def __init__(self) -> None:
        cast.make_policy()
        self.ilse = cast.make_instructor()
        self.noor = cast.make_student()
        consultation = cast.make_meeting(cast.make_offering(), self.ilse, TAUGHT)
        group = cast.make_offering("Studio class", Kind.GROUP_MEETING, 60)
        self.consultation, self.group = (
            consultation,
            cast.make_meeting(group, self.ilse, TAUGHT + timedelta(hours=1), places=3),
        )
        self.one = cast.make_booking(consultation, self.noor)
        self.more = [
            cast.make_booking(self.group, who)
            for who in (cast.make_student("Marlo Vance"), cast.make_minor())
        ]

    def mark(self, meeting, *bookings, attendance=Attendance.PRESENT, now=MORNING):
        mark_register(
            actor=self.ilse.user,
            meeting=meeting,
            marks={one.pk: attendance for one in bookings},
            now=now,
        )

    def asked(self, now=MORNING) -> list[OutboxMessage]:
        follow_ups.ask_to_finish(now=now)
        return list(OutboxMessage.objects.filter(kind="follow-up").order_by("pk"))


@pytest.fixture
def friday() -> Friday:
    return Friday()


def test_what_is_open_is_named_once_and_without_a_word_of_a_note(friday):
    """Registers by who is not marked, the consultation by its assessment; a minor without their
    surname; the draft's text nowhere.
    """
    cast.make_assessment(friday.noor, friday.ilse, obstacle="canary-5b", written_at=TAUGHT)
    (message,) = friday.asked()
    assert message.recipient == friday.ilse.user
    for said in (
        "Friday 12 March",
        "Release the assessment of Noor Ashgrove",
        "Mark the register for Marlo Vance and Posy:",
    ):
        assert said in message.body
    assert "canary" not in message.body + message.title
    assert "Lindqvist" not in message.body
    assert outbox.drain(lambda: MORNING) == 1
    assert len(friday.asked(MORNING + timedelta(hours=5))) == 1


def test_nobody_is_asked_at_night_nor_on_the_day_itself(friday):
    """Not before 08:00 and not from 22:00 on, on the instructor's own clock; nor about a day that
    is not over.
    """
    for early in (
        TAUGHT + timedelta(hours=3),
        MORNING - timedelta(minutes=1),
        at("2027-03-13T22:00Z"),
    ):
        assert friday.asked(early) == []
    assert len(friday.asked(at("2027-03-13T21:59Z"))) == 1


def test_a_finished_day_asks_for_nothing(friday):
    """Every place marked and the assessment released after the meeting: there is nothing to ask."""
    note = cast.make_assessment(friday.noor, friday.ilse)
    notes.release_assessment(actor=friday.ilse.user, note=note, now=TAUGHT + timedelta(hours=2))
    friday.mark(friday.consultation, friday.one)
    friday.mark(friday.group, *friday.more)
    assert friday.asked() == []


def test_who_did_not_come_is_not_assessed_and_a_called_off_meeting_is_not_asked_about(friday):
    """An absence is marked and done; a meeting that was called off has no register."""
    friday.mark(friday.consultation, friday.one, attendance=Attendance.ABSENT_WITHOUT_NOTICE)
    friday.group.status = "CANCELLED"
    friday.group.save()
    assert friday.asked() == []


def test_what_is_done_before_the_message_leaves_is_not_asked_for(friday):
    """Marked in between: the unsent message is taken back and told anew with what is left; when all
    is done, not at all.
    """
    assert len(friday.asked()) == 1
    friday.mark(friday.group, *friday.more)
    (message,) = friday.asked()
    assert "Marlo" not in message.body
    friday.mark(friday.consultation, friday.one, attendance=Attendance.ABSENT_WITH_NOTICE)
    assert friday.asked() == []
    assert outbox.drain(lambda: MORNING) == 0


def test_an_instructor_who_has_left_is_not_asked(friday):
    """Their register is the office's to finish."""
    friday.ilse.is_active = False
    friday.ilse.save()
    assert friday.asked() == []
