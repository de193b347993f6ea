"""A feed, the meeting in it, and how it is fetched."""

from datetime import datetime
from typing import Any

import pytest
from django.test import Client

from accounts.models import User
from bookings import outbox
from bookings.models import Booking
from bookings.operations.subscriptions import open_feed
from tests.cast import (
    NOW,
    at,
    make_booking,
    make_instructor,
    make_meeting,
    make_offering,
    make_student,
)


@pytest.fixture
def held() -> Booking:
    meeting = make_meeting(
        make_offering(),
        make_instructor("Bram Tolliver", "Australia/Lord_Howe"),
        at("2027-03-15T21:00Z"),
    )
    return make_booking(meeting, make_student())


def reader(booking: Booking) -> User:
    assert booking.student.user is not None
    return booking.student.user


def address(owner: User) -> str:
    return f"/calendar/{open_feed(actor=owner, label='Phone', now=NOW)[1]}.ics"


def fetch(path: str, **headers: str) -> Any:
    return Client().get(
        path, headers={name.replace("_", "-"): text for name, text in headers.items()}
    )


def bump(owner: User, now: datetime) -> None:
    outbox.bump_feeds([owner.pk], now=now)
