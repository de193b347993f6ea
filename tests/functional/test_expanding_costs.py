"""Reading a calendar file takes a process and seconds: one at a time a person, and nobody waits in
a thread for it.

Twenty-four uploads by one student kept every web thread waiting for 42 seconds (OWASP API4:2023,
unrestricted resource consumption).
"""

import time
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from accounts.models import Student, User
from bookings.domain.errors import Refused
from bookings.inbound import expanding
from bookings.inbound.expanding import Expanded
from bookings.models import BusyCalendar
from bookings.operations import busy_reading
from tests import cast
from tests.cast import NOW
from tests.functional.guessing import waits
from tests.unit.calendars_samples import calendar_of, entry

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("counting")]
ICS = calendar_of(entry("DTSTART:20270312T170000Z", "DURATION:PT1H", "SUMMARY:Dentist"))
Upload = Callable[[Student], Any]


def browser(user: User) -> Client:
    client = Client()
    client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")
    return client


def over_the_api(student: Student) -> Any:
    """One file sent to the API."""
    body = {"name": "Dentist", "calendar": ICS.decode()}
    return browser(student.user).post("/api/v1/busy-calendars/", body, "application/json")


def on_the_page(student: Student) -> Any:
    """One file sent by the form."""
    prefix, file = f"busy{student.pk}", SimpleUploadedFile("busy.ics", ICS)
    form = {f"{prefix}-name": "Dentist", f"{prefix}-file": file}
    return browser(student.user).post("/busy-calendars/", form)


UPLOADS = pytest.mark.parametrize("upload", [over_the_api, on_the_page])


@pytest.fixture
def noor() -> Student:
    return cast.make_student()


@pytest.fixture
def expanded(monkeypatch: pytest.MonkeyPatch) -> list[Callable[[], None]]:
    """What happens while the next file is being expanded."""
    meanwhile: list[Callable[[], None]] = []

    def expand(*_: Any, **__: Any) -> Expanded:
        if meanwhile:
            meanwhile.pop()()
        return Expanded((), NOW + timedelta(days=366), 0)

    monkeypatch.setattr(busy_reading, "expand", expand)
    return meanwhile


@UPLOADS
def test_twenty_four_uploads_at_once_are_one(
    noor: Student, upload: Upload, expanded: list[Callable[[], None]]
) -> None:
    """While one file of a person is read, their others are refused at once, in words, on page and
    API."""
    others: list[Any] = []
    expanded.append(lambda: others.extend(upload(noor) for _ in range(23)))
    assert upload(noor).status_code in (201, 302)
    assert all(waits(answer) for answer in others) and len(others) == 23
    assert "is being read" in others[0].content.decode()
    assert BusyCalendar.objects.count() == 1


@UPLOADS
def test_the_next_is_read_when_the_first_is_done(
    noor: Student, upload: Upload, expanded: list[Callable[[], None]]
) -> None:
    """One after the other, and one of another person beside it."""
    marlo, beside = cast.make_student("Marlo Vance"), list[Any]()
    expanded.append(lambda: beside.append(upload(marlo)))
    answers = [upload(noor), upload(noor), *beside]
    assert all(answer.status_code in (201, 302) for answer in answers), answers


@UPLOADS
def test_a_file_that_is_refused_lets_the_next_in(
    noor: Student, upload: Upload, expanded: Any
) -> None:
    """Whatever ends a reading, it has ended."""

    def broken() -> None:
        raise Refused("calendar-unreadable", "It is no calendar.")

    expanded.append(broken)
    assert upload(noor).status_code == 422
    assert upload(noor).status_code in (201, 302)


@UPLOADS
def test_no_thread_waits_for_a_busy_process(noor: Student, upload: Upload) -> None:
    """Where this process expands two others already, the answer comes at once: 503 and when to come
    again."""
    assert expanding._AT_ONCE.acquire(timeout=1) and expanding._AT_ONCE.acquire(timeout=1)
    began = time.monotonic()
    try:
        answer = upload(noor)
    finally:
        expanding._AT_ONCE.release(2)
    assert time.monotonic() - began < expanding.PATIENCE / 2
    assert answer.status_code == 503 and 1 <= int(answer["Retry-After"]) <= 60


@UPLOADS
def test_a_sixth_calendar_is_not_even_read(noor: Student, upload: Upload, expanded: Any) -> None:
    """Whoever has as many calendars as there may be is told so before anything is worked out."""
    for number in range(5):
        BusyCalendar.objects.create(owner=noor.user, name=str(number), added_at=NOW)
    expanded.append(lambda: pytest.fail("it was expanded"))
    assert upload(noor).status_code == 422


def test_the_page_is_throttled_like_the_api(noor: Student, expanded: Any) -> None:
    """As many uploads a minute as the API takes of one person, and then 429."""
    pages = [on_the_page(noor) for _ in range(31)]
    assert waits(pages[-1]) and not any(waits(answer) for answer in pages[:30])
    assert browser(noor.user).get("/busy-calendars/").status_code == 200


def test_asking_again_on_the_page_is_throttled(noor: Student) -> None:
    """The button that reads an address again counts with the uploads."""
    calendar = BusyCalendar.objects.create(owner=noor.user, name="Choir", host="x", added_at=NOW)
    press = f"/busy-calendars/{calendar.pk}/refresh/"
    answers = [browser(noor.user).post(press) for _ in range(31)]
    assert waits(answers[-1])
