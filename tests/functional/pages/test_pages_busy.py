"""Other calendars on the pages: a section of the instructor's hours and of one's own page, told in
words.
"""

import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from bookings.domain.timeline import Period
from bookings.models import BusyCalendar, BusyPeriod
from bookings.operations import busy as operations
from tests.cast import NOW, at
from tests.functional.pages.school import School, as_user, text_of
from tests.unit.calendars_samples import calendar_of, entry

LESSON = entry("DTSTART:20270312T170000Z", "DURATION:PT1H", "SUMMARY:Dentist")
URL = "https://calendar.rowanmere.example/busy.ics?key=canary-7d31"


def upload(data: bytes = calendar_of(LESSON)) -> SimpleUploadedFile:
    return SimpleUploadedFile("busy.ics", data, content_type="text/calendar")


def test_an_instructor_adds_a_file_and_sees_the_clash(school: School) -> None:
    """Added on their hours page, named there with its age; the lesson in its time is listed there
    and for an admin, who sees no calendar.
    """
    client = as_user(school.ilse.user)
    response = client.post(
        "/busy-calendars/", {"busy-name": "Orchestra", "busy-file": upload()}, follow=True
    )
    page = text_of(response)
    assert response.redirect_chain == [("/hours/", 302)]
    assert "<b>Orchestra</b>, a file" in page
    assert "Read once" in page
    assert "Lessons at times that are busy elsewhere" in page
    admins = text_of(as_user(school.dag).get(f"/hours/?instructor={school.ilse.pk}"))
    assert "Lessons at times that are busy elsewhere" in admins
    assert "Orchestra" not in admins


def test_a_student_adds_an_address_and_only_its_host_is_shown(school: School) -> None:
    """On their own page, "not read yet" at first; no page shows the address again, and their
    instructor sees nothing of it.
    """
    client, prefix = as_user(school.noor.user), f"busy{school.noor.pk}"
    response = client.post(
        "/busy-calendars/", {f"{prefix}-name": "Choir", f"{prefix}-address": URL}, follow=True
    )
    assert response.redirect_chain == [("/me/", 302)]
    assert "<b>Choir</b>, from calendar.rowanmere.example" in text_of(response)
    assert "Not read yet" in text_of(response)
    assert "canary-7d31" not in text_of(response)
    assert "Choir" not in text_of(as_user(school.ilse.user).get("/hours/"))


def test_a_problem_is_told_in_words_beside_the_age(school: School) -> None:
    """What went wrong, when, and that the copy of before stays."""
    calendar = BusyCalendar.objects.create(
        owner=school.noor.user,
        name="Choir",
        host="calendar.rowanmere.example",
        added_at=NOW,
        tried_at=at("2026-01-01T11:00Z"),  # this page reads the real clock
        fetched_at=NOW,
        covers_until=NOW + timedelta(days=366),
        unknown_zones=2,
        problem="calendar-unanswered",
        problem_words="The address gave no calendar: it answered with status 500.",
    )
    page = text_of(as_user(school.noor.user).get("/me/"))
    assert "it answered with status 500. What was read before is still used." in page
    assert "2 time zones in it are unknown; those times were taken to be New York time." in page
    response = as_user(school.noor.user).post(
        f"/busy-calendars/{calendar.pk}/refresh/", follow=True
    )
    assert "Choir will be read again within a minute." in text_of(response)


def test_a_fault_that_was_forgiven_is_told(school: School) -> None:
    """An uploaded file with an empty EXDATE is read, and its owner reads that it was."""
    odd = calendar_of(entry("DTSTART:20270302T100000Z", "DURATION:PT1H", "EXDATE:"))
    client, prefix = as_user(school.noor.user), f"busy{school.noor.pk}"
    sent = {f"{prefix}-name": "Choir", f"{prefix}-file": upload(odd)}
    page = text_of(client.post("/busy-calendars/", sent, follow=True))
    assert "was read anyway: an empty EXDATE." in page


def test_removing_takes_the_busy_time_away(school: School) -> None:
    """At once, and the page says so; a guardian does the same for their child on their own page."""
    copy = operations.Copy(
        periods=[Period(NOW, NOW + timedelta(hours=1))],
        covers_until=NOW,
        unknown_zones=0,
        digest="",
        time_zone="Europe/Dublin",
    )
    for person, user in (
        (school.noor, school.noor.user),
        (school.posy, school.hedda),
        (school.ilse, school.ilse.user),
    ):
        calendar = operations.add_file(
            actor=user, person=person, name="Orchestra", copy=copy, now=NOW
        )
        response = as_user(user).post(f"/busy-calendars/{calendar.pk}/remove/", follow=True)
        assert response.redirect_chain == [("/hours/" if person is school.ilse else "/me/", 302)]
        assert "Removed: Orchestra." in text_of(response)
    assert not BusyPeriod.objects.exists()


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"name": "Choir"}, "Give either an address or a file"),
        ({"address": URL}, "This cannot be left empty"),
        (
            {"name": "Choir", "address": "http://calendar.rowanmere.example/a.ics"},
            "begins with https://",
        ),
        ({"name": "Choir", "file": upload(b"<html>")}, "This is not a calendar that can be read"),
        ({"name": "Choir", "file": upload(b"a" * 2_000_001)}, "Choose a file of up to 2 MB."),
        ({"name": "Choir", "file": upload(b"")}, "This file is empty."),
        (
            {
                "name": "Choir",
                "file": upload(calendar_of(entry("DTSTART:20270312T170000Z", "RRULE:FREQ=HOURLY"))),
            },
            "by the hour, minute or second",
        ),
    ],
    ids=range(7),
)
def test_what_cannot_be_added_is_said_beside_the_form(
    school: School, sent: dict[str, object], words: str
) -> None:
    """422, the reason in words, and nothing stored."""
    response = as_user(school.ilse.user).post(
        "/busy-calendars/", {f"busy-{name}": value for name, value in sent.items()}
    )
    assert response.status_code == 422
    assert words in text_of(response)
    assert not BusyCalendar.objects.exists()


@pytest.mark.parametrize("kind", ["address", "file"])
def test_the_same_form_sent_twice_adds_one_calendar(school: School, kind: str) -> None:
    """A double click, or the form sent again from the browser's history."""
    client = as_user(school.ilse.user)
    once = re.search(r'name="busy-once" value="([\w-]+)"', text_of(client.get("/hours/")))[1]
    for _ in range(2):
        sent = URL if kind == "address" else upload()
        form = {"busy-name": "Choir", f"busy-{kind}": sent, "busy-once": once}
        assert client.post("/busy-calendars/", form).status_code == 302
    assert BusyCalendar.objects.count() == 1


def test_removing_a_calendar_asks_first(school: School) -> None:
    """GET says what follows and removes nothing."""
    calendar = BusyCalendar.objects.create(
        owner=school.noor.user, name="Choir", host="calendar.rowanmere.example", added_at=NOW
    )
    asked = as_user(school.noor.user).get(f"/busy-calendars/{calendar.pk}/remove/")
    assert "Remove Choir?" in text_of(asked)
    assert 'href="/me/"' in text_of(asked)
    assert BusyCalendar.objects.exists()
