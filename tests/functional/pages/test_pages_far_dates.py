"""Instants at the ends of the calendar, typed into the addresses and forms of booking and moving: a
page, never a fault."""

import pytest
from django.test import Client
from django.urls import reverse

from tests.functional.pages.school import School, as_user

pytestmark = pytest.mark.sql

FAR = [
    "0001-01-01T00:00:00+00:00",
    "0001-01-01T00:00:00+14:00",
    "0001-01-01T00:00:00-12:00",
    "0001-06-01T12:00:00Z",
    "9999-12-31T23:59:59+00:00",
    "9999-12-31T23:59:59+14:00",
    "9999-12-31T23:59:59-12:00",
    "9999-06-01T12:00:00Z",
    "2027-03-12T17:30:00+23:59",
    "1999-12-31T23:59:59Z",
    "2200-01-01T00:00:00Z",
]
DAYS = sorted({instant[:10] for instant in FAR})


def _with(school: School, starts_at: str) -> dict[str, object]:
    return {
        "student": school.noor.pk,
        "offering": school.consultation.pk,
        "instructor": school.ilse.pk,
        "starts_at": starts_at,
    }


def _calmly(client: Client, verb: str, path: str, values: dict[str, object]) -> None:
    """Asks with the values in the address or the form; a page comes back that is no fault."""
    client.raise_request_exception = False
    ask = client.get if verb == "GET" else client.post
    assert ask(path, values).status_code < 500, (verb, path, values)


@pytest.mark.parametrize("starts_at", FAR)
@pytest.mark.parametrize("verb", ["GET", "POST"])
def test_a_start_at_the_end_of_the_calendar(school: School, verb: str, starts_at: str) -> None:
    """Booking, choosing again after a refusal, and moving: the reader's clock and the lesson's end
    would leave the calendar."""
    noor, wish = as_user(school.noor.user), _with(school, starts_at)
    move = reverse("move", args=[school.booking.pk])
    _calmly(noor, verb, reverse("book"), wish)
    _calmly(noor, verb, reverse("book"), {**wish, "start": f"{school.ilse.pk}@{starts_at}"})
    _calmly(noor, verb, move, wish)


@pytest.mark.parametrize("on", DAYS)
def test_a_day_at_the_end_of_the_calendar(school: School, on: str) -> None:
    """Every page that reads a day from its address or its form."""
    noor, ilse = as_user(school.noor.user), as_user(school.ilse.user)
    move = reverse("move", args=[school.booking.pk])
    for path in (reverse("times"), move, reverse("why")):
        _calmly(noor, "GET", path, {**_with(school, ""), "since": on, "on": on})
    _calmly(
        noor, "POST", reverse("ask-to-move", args=[school.booking.pk]), {"on": on, "at": "0:00"}
    )
    for name in ("add-extra-hours", "go-away"):
        days = {"first_on": on, "last_on": on, "on": on, "opens": "00:00", "closes": "24:00"}
        _calmly(ilse, "POST", reverse(name), days)
