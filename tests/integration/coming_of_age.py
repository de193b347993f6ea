"""Lark comes of age on a day in March, and their reminders are watched over it."""

from datetime import date, datetime, timedelta
from math import ceil
from typing import Any

import pytest
from django.core.mail.backends.base import BaseEmailBackend
from django.db.models import Min

from accounts.models import Student, User
from bookings import outbox
from bookings.door import write
from bookings.models import Booking, OutboxMessage
from bookings.operations.booking import book_slot
from tests import cast
from tests.cast import NOW, at

MIDNIGHT = at("2027-03-09T13:00Z")
"""10 March 2027 begins in Sydney."""

ON_THE_DAY, DAY_AFTER = at("2027-03-10T09:30Z"), at("2027-03-11T09:30Z")

HALF_AN_HOUR, HOUR, DAY = timedelta(minutes=30), timedelta(hours=1), timedelta(days=1)

MAIL = "django.core.mail.backends.{}.EmailBackend"


class Away(BaseEmailBackend):
    """A mail server that nobody reaches."""

    def send_messages(self, messages: Any) -> int:
        raise ConnectionError


@pytest.fixture(autouse=True)
def mail_arrives(settings) -> None:
    settings.EMAIL_BACKEND = MAIL.format("locmem")


@pytest.fixture
def orsola(db: None) -> User:
    return cast.make_user("Orsola Reed", "Europe/London")


@pytest.fixture
def lark(orsola: User) -> Student:
    return cast.make_minor("Lark Reed", guardian=orsola, adult_on=date(2027, 3, 10))


@pytest.fixture
def account(lark: Student) -> User:
    return cast.give_account(lark)


def book(student: Student, actor: User, starts_at: datetime) -> Booking:
    cast.make_policy()
    ilse, lesson = cast.make_instructor(), cast.make_offering()
    cast.teaches(ilse, lesson)
    cast.publish(ilse, cast.EVERY_DAY)
    values = {"offering": lesson, "instructor": ilse, "starts_at": starts_at, "now": NOW}
    return write(lambda: book_slot(actor=actor, student=student, **values), now=NOW)


def live_through(since: datetime, until: datetime) -> None:
    """Empty the outbox at every half hour, counted from `since`, at which a message is due."""
    now = since
    while now <= until:
        outbox.drain(lambda: now)  # noqa: B023  it is over before `now` changes
        due_at = OutboxMessage.objects.filter(state="due").aggregate(Min("due_at"))["due_at__min"]
        if due_at is None:
            break
        now = max(now + HALF_AN_HOUR, since + ceil((due_at - since) / HALF_AN_HOUR) * HALF_AN_HOUR)


def sent(*kinds: str) -> list[tuple[str, str]]:
    """Which messages of these kinds have left, and to whom."""
    rows = OutboxMessage.objects.filter(kind__in=kinds, state="sent").order_by("sent_at", "pk")
    return [(row.kind, row.recipient.get_short_name()) for row in rows.select_related("recipient")]


def reminders() -> list[tuple[str, str]]:
    return sent("reminder-24h", "reminder-1h")
