"""A new reader, another birthday or another clock between a reminder's making and its leaving."""

from datetime import date, datetime

import pytest

from accounts.models import Guardianship, Student, User
from bookings.door import write
from bookings.models import OutboxMessage
from bookings.operations.guardians import remove_guardian
from bookings.operations.invitations import come_in, invite
from bookings.operations.people import change_me
from bookings.operations.students import change_student
from tests import cast
from tests.cast import NOW, at
from tests.integration.coming_of_age import (
    DAY,
    DAY_AFTER,
    HOUR,
    account,
    book,
    lark,
    live_through,
    orsola,
    reminders,
)

__all__ = ["account", "lark", "orsola"]

pytestmark = pytest.mark.django_db


def welcomed(student: Student, now: datetime, **role: Student) -> User:
    """Whoever is invited makes their account."""
    email = f"new.{student.pk}@rowanmere.example"
    values = {"email": email, "name": "Wyn Reed", **(role or {"student": student})}
    write(lambda: invite(actor=cast.make_admin(), now=now, **values), now=now)
    body = OutboxMessage.objects.get(kind="welcome").body
    secret = body.partition("/welcome/")[2].partition("/")[0]
    form = {"name": "Wyn Reed", "time_zone": "Australia/Sydney", "password": "x" * 20}
    return write(lambda: come_in(secret=secret, now=now, **form), now=now)


def test_a_grown_child_who_makes_an_account_is_reminded_from_then_on(
    orsola: User, lark: Student
) -> None:
    """Until then the guardian answers, and not a day longer."""
    book(lark, orsola, at("2027-03-14T09:30Z"))
    live_through(NOW, at("2027-03-12T09:00Z"))
    welcomed(lark, at("2027-03-12T10:00Z"))
    live_through(at("2027-03-12T10:00Z"), at("2027-03-14T09:30Z"))
    assert reminders() == [("reminder-24h", "Wyn"), ("reminder-1h", "Wyn")]


def test_what_a_guardian_sleeps_over_waits_for_the_new_account() -> None:
    """Due at 01:30 in Los Angeles, 20:30 in Sydney: it has not left when the child makes an
    account.
    """
    guardian = cast.make_user("Ione Reed", "America/Los_Angeles")
    lark = cast.make_minor("Lark Reed", guardian=guardian, adult_on=date(2027, 3, 10))
    starts_at = at("2027-03-14T09:30Z")
    book(lark, guardian, starts_at)
    live_through(NOW, starts_at - DAY)
    welcomed(lark, starts_at - DAY + HOUR / 4)
    live_through(starts_at - DAY + HOUR / 2, starts_at)
    assert reminders() == [("reminder-24h", "Wyn"), ("reminder-1h", "Wyn")]


def test_a_new_guardian_is_reminded_when_the_other_goes(orsola: User, lark: Student) -> None:
    """Nobody but the new guardian answers when the reminders are due."""
    book(lark, orsola, at("2027-03-08T09:30Z"))
    welcomed(lark, NOW + DAY, guardian_of=lark)
    Guardianship.objects.update(consent_at=NOW, consent_wording="2026-11")
    gone = Guardianship.objects.get(guardian=orsola)
    admin = cast.make_admin("Brid Emberley")
    write(lambda: remove_guardian(actor=admin, guardianship=gone, now=NOW + DAY), now=NOW + DAY)
    live_through(NOW + DAY, at("2027-03-08T09:30Z"))
    assert reminders() == [("reminder-24h", "Wyn"), ("reminder-1h", "Wyn")]


@pytest.mark.parametrize(
    ("adult_on", "reader"), [(date(2027, 3, 3), "Lark"), (date(2027, 4, 1), "Orsola")]
)
def test_another_birthday_is_another_reader(
    orsola: User, lark: Student, account: User, adult_on: date, reader: str
) -> None:
    """The office corrects the date: the reminders follow it."""
    starts_at = at("2027-03-09T09:30Z") if reader == "Lark" else DAY_AFTER
    book(lark, orsola, starts_at)
    values = {"level": lark.level, "unit": lark.unit, "adult_on": adult_on, "now": NOW}
    admin = cast.make_admin()
    write(lambda: change_student(actor=admin, student=lark, **values), now=NOW)
    live_through(NOW, starts_at)
    assert reminders() == [("reminder-24h", reader), ("reminder-1h", reader)]


def test_a_childs_other_clock_keeps_their_reminders(
    orsola: User, lark: Student, account: User
) -> None:
    """Before the birthday the child moves to Tokyo: what waits is told anew on that clock."""
    book(lark, orsola, DAY_AFTER)
    write(lambda: change_me(actor=account, time_zone="Asia/Tokyo", now=NOW), now=NOW)
    live_through(NOW, DAY_AFTER)
    assert reminders() == [("reminder-24h", "Lark"), ("reminder-1h", "Lark")]
    assert "Tokyo" in OutboxMessage.objects.get(kind="reminder-24h", state="sent").body
