"""What is written ahead reaches whoever answers when it is due, over a birthday and the account of
a grown child.

Every reminder of a lesson leaves once to the family: nothing is lost at midnight, and nothing said
twice.
"""

from datetime import date, datetime, timedelta

import pytest

from accounts.models import Student, User
from bookings import outbox
from bookings.domain.vocabulary import Kind, Standing
from bookings.door import write
from bookings.models import OutboxMessage
from bookings.notices import offer_made
from bookings.operations.booking import move_slot
from bookings.operations.places import book_place
from bookings.operations.rooms import change_room
from tests import cast
from tests.cast import NOW, at
from tests.integration.coming_of_age import (
    DAY,
    DAY_AFTER,
    HOUR,
    MAIL,
    MIDNIGHT,
    ON_THE_DAY,
    account,
    book,
    lark,
    live_through,
    orsola,
    reminders,
    sent,
)
from tests.letters import keep
from tests.school.weekly import School

__all__ = ["account", "lark", "orsola"]

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("starts_at", "readers"),
    [
        (at("2027-03-09T09:30Z"), "Orsola Orsola"),
        (ON_THE_DAY, "Orsola Lark"),
        (DAY_AFTER, "Lark Lark"),
    ],
)
def test_each_reminder_goes_once_to_whoever_answers_then(
    orsola: User, lark: Student, account: User, starts_at: datetime, readers: str
) -> None:
    """Booked by the guardian; from midnight of the child's clock on the child is reminded."""
    book(lark, orsola, starts_at)
    live_through(NOW, starts_at)
    assert [reader for _, reader in reminders()] == readers.split()
    assert [kind for kind, _ in reminders()] == ["reminder-24h", "reminder-1h"]


def test_the_grown_child_reads_their_own_reminder(
    orsola: User, lark: Student, account: User
) -> None:
    """It speaks to them, on their clock, and no guardian has to stay near any more."""
    book(lark, orsola, DAY_AFTER)
    reminder = OutboxMessage.objects.get(recipient=account, kind="reminder-24h")
    assert "Your lesson is coming up" in reminder.body and "Sydney" in reminder.body
    assert "stay near" not in reminder.body


def test_a_guardians_reminder_names_those_they_still_answer_for(
    orsola: User, lark: Student, account: User
) -> None:
    """Kit is a minor for years, Lark no more: the guardian of both is reminded of Kit."""
    kit = cast.make_minor("Kit Reed", guardian=orsola)
    cast.make_policy()
    circle = cast.make_offering("Circle", Kind.GROUP_MEETING, 30)
    meeting = cast.make_meeting(circle, cast.make_instructor(), DAY_AFTER, places=4)
    for student in (kit, lark):
        values = {"student": student, "meeting": meeting, "place_kind": "player"}
        write(lambda values=values: book_place(actor=orsola, now=NOW, **values), now=NOW)
    live_through(NOW, DAY_AFTER)
    assert sorted(reminders()) == sorted(
        (kind, name) for kind in ("reminder-24h", "reminder-1h") for name in ("Lark", "Orsola")
    )
    said = OutboxMessage.objects.get(recipient=orsola, kind="reminder-24h", state="sent").body
    assert "Kit’s meeting is coming up" in said and "Lark" not in said


def test_what_could_not_leave_before_midnight_reaches_the_grown_child(
    settings, orsola: User, lark: Student, account: User
) -> None:
    """The mail server is away over midnight: nobody has been told; the child is, in the morning."""
    book(lark, orsola, ON_THE_DAY)
    outbox.drain(lambda: NOW)
    settings.EMAIL_BACKEND = f"{__name__}.Away"
    live_through(ON_THE_DAY - DAY, MIDNIGHT)
    settings.EMAIL_BACKEND = MAIL.format("locmem")
    live_through(MIDNIGHT + HOUR / 2, ON_THE_DAY)
    assert reminders() == [("reminder-24h", "Lark"), ("reminder-1h", "Lark")]
    told = OutboxMessage.objects.get(kind="reminder-24h", state="sent")
    assert told.sent_at == at("2027-03-09T21:00Z")


def test_a_guardian_who_sleeps_over_midnight_loses_nothing() -> None:
    """Due at 20:30 in London, 22:30 in Athens: it would wait there until the child is of age, so
    the child has it.
    """
    guardian = cast.make_user("Ione Reed", "Europe/Athens")
    fenn = cast.make_minor(
        "Fenn Reed", "Europe/London", guardian=guardian, adult_on=date(2027, 3, 10)
    )
    cast.give_account(fenn)
    book(fenn, guardian, at("2027-03-10T20:30Z"))
    live_through(NOW, at("2027-03-10T20:30Z"))
    assert reminders() == [("reminder-24h", "Fenn"), ("reminder-1h", "Fenn")]


@pytest.mark.parametrize("hours", [24, 26])
def test_a_lesson_that_moves_is_reminded_of_once_at_its_new_time(
    orsola: User, lark: Student, account: User, hours: int
) -> None:
    """Moved to the day after, or to before the birthday and back: of the old time nobody hears."""
    booking = book(lark, orsola, DAY_AFTER)
    for starts_at in (at("2027-03-09T09:30Z"), DAY_AFTER + timedelta(hours=hours)):
        booking.refresh_from_db()
        change = {"actor": orsola, "booking": booking, "starts_at": starts_at, "now": NOW}
        write(lambda change=change: move_slot(**change), now=NOW)
    live_through(NOW, DAY_AFTER + 2 * DAY)
    assert reminders() == [("reminder-24h", "Lark"), ("reminder-1h", "Lark")]


def test_a_new_room_is_told_once(orsola: User, lark: Student, account: User) -> None:
    """Something else than the time changes: the reminder of before gives way to the new one."""
    booking = book(lark, orsola, DAY_AFTER)
    ilse, room = booking.meeting.instructor, "https://rooms.rowanmere.example/attic"
    write(lambda: change_room(actor=ilse.user, instructor=ilse, room=room, now=NOW), now=NOW)
    live_through(NOW, DAY_AFTER)
    assert reminders() == [("reminder-24h", "Lark"), ("reminder-1h", "Lark")]
    for message in OutboxMessage.objects.filter(kind="reminder-24h", state="sent"):
        assert room in message.body


def test_an_offer_is_remembered_by_whoever_may_answer(
    orsola: User, lark: Student, account: User
) -> None:
    """Offered before midnight, to be answered after it: the last reminder is the grown child's."""
    circle = cast.make_offering("Circle", Kind.GROUP_MEETING, 50)
    meeting = cast.make_meeting(circle, cast.make_instructor(), at("2027-03-12T09:30Z"), places=4)
    offered_at, answer_by = at("2027-03-08T22:00Z"), at("2027-03-09T22:00Z")
    offer = cast.make_booking(
        meeting, lark, standing=Standing.OFFERED, answer_by=answer_by, booked_at=offered_at
    )
    keep(offer_made(offer, now=offered_at), offered_at)
    live_through(offered_at, answer_by)
    assert sent("offer-reminder") == [("offer-reminder", "Orsola"), ("offer-reminder", "Lark")]


def test_a_shift_of_the_clocks_is_told_to_whoever_answers_then() -> None:
    """A place taken in January, a birthday in February, another hour from 16 March."""
    school = School()
    hedda = cast.make_user("Hedda Reed", "America/New_York")
    kit = cast.make_minor("Kit Reed", "America/New_York", guardian=hedda, adult_on=date(2027, 2, 2))
    cast.give_account(kit)
    school.take(kit)
    live_through(at("2027-03-01T00:00Z"), at("2027-03-15T00:00Z"))
    assert sent("shift") == [("shift", "Kit")]
