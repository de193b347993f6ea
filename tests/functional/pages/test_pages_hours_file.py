"""Hours as a calendar file, on the page: download, look at a proposal, publish it."""

import re
from datetime import date
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from bookings.models import AuditRow, DaysAway, ExtraHours, TeachingHours
from tests.functional.pages.school import School, as_user, text_of


def ics(*windows: str) -> SimpleUploadedFile:
    """A file with these windows, Mondays from 15:30 to 20:30 in Dublin unless said otherwise, and
    one date left out.
    """
    weekly = (
        "BEGIN:AVAILABLE\r\nDTSTART;TZID=Europe/Dublin:20270301T153000\r\n"
        "DTEND;TZID=Europe/Dublin:20270301T203000\r\n"
        "RRULE:FREQ=WEEKLY;BYDAY=MO\r\nEXDATE;TZID=Europe/Dublin:20270405T153000\r\n"
        "END:AVAILABLE\r\n"
    )
    once = (
        "BEGIN:AVAILABLE\r\nDTSTART:20270320T100000Z\r\nDTEND:20270320T120000Z\r\nEND:AVAILABLE\r\n"
    )
    body = "".join(windows) or weekly + once
    text = (
        f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nBEGIN:VAVAILABILITY\r\n{body}END:VAVAILABILITY\r\n"
        "END:VCALENDAR\r\n"
    )
    return SimpleUploadedFile("hours.ics", text.encode(), "text/calendar")


def sealed(page: str) -> str:
    found = re.search('name="proposal" value="([^"]+)"', page)
    assert found is not None
    return unescape(found[1])


def hours_of(school: School) -> list[tuple[int, int, int]]:
    return list(
        TeachingHours.objects.filter(week__instructor=school.ilse).values_list(
            "weekday", "opens", "closes"
        )
    )


def test_a_file_becomes_hours_only_when_they_say_so(school: School) -> None:
    """Week, extra hours and a day away are shown first and nothing is written; publishing writes
    just these.
    """
    client, before = as_user(school.ilse.user), hours_of(school)
    ExtraHours.objects.create(
        instructor=school.ilse,
        on=date(2027, 3, 9),
        opens=600,
        closes=660,
        time_zone="Europe/Dublin",
    )
    shown = text_of(client.post("/hours/from-file/", {"calendar": ics()}))
    assert "Monday, 15:30 to 20:30" in shown
    assert "20 March 2027, 10:00 to 12:00" in shown
    assert "5 April 2027" in shown
    assert hours_of(school) == before and not AuditRow.objects.exists()
    assert client.post("/hours/from-file/publish/", {"proposal": sealed(shown)}).status_code == 302
    assert hours_of(school) == [(0, 930, 1230)]
    assert list(ExtraHours.objects.values_list("on", "opens", "closes")) == [
        (date(2027, 3, 20), 600, 720)
    ]
    assert list(DaysAway.objects.values_list("first_on", "last_on")) == [
        (date(2027, 4, 5), date(2027, 4, 5))
    ]
    again = client.post("/hours/from-file/publish/", {"proposal": sealed(shown)})
    assert again.status_code == 412, "the hours are no longer those beside which it was shown"


def test_what_they_download_comes_back_as_the_same_hours(school: School) -> None:
    """Down and up again: the proposal is the week that is published, with nothing that could not be
    said.
    """
    client, before = as_user(school.ilse.user), hours_of(school)
    answer = client.get("/hours/availability.ics")
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    shown = text_of(
        client.post(
            "/hours/from-file/", {"calendar": SimpleUploadedFile("hours.ics", answer.content)}
        )
    )
    assert "What could not be imported" not in shown
    client.post("/hours/from-file/publish/", {"proposal": sealed(shown)})
    assert hours_of(school) == before


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"hello", "not a calendar file"),
        (b"\x00\xff\xfe" * 99, "not a calendar file"),
        (b"BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", "holds no availability"),
        (b"BEGIN:VCALENDAR\r\n" + b"X" * 150_000, "up to 100 kB"),
        (b"", "empty"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_on_the_page(
    school: School, content: bytes, said: str
) -> None:
    """A sentence above the hours as they stand."""
    answer = as_user(school.ilse.user).post(
        "/hours/from-file/", {"calendar": SimpleUploadedFile("hours.ics", content)}
    )
    assert answer.status_code in (400, 413, 422)
    assert said in text_of(answer)


def test_a_proposal_is_good_for_one_instructor_and_as_it_was_shown(school: School) -> None:
    """Not for another, and not with a letter changed; an admin may look and publish for them."""
    shown = sealed(
        text_of(as_user(school.ilse.user).post("/hours/from-file/", {"calendar": ics()}))
    )
    before = hours_of(school)
    assert (
        as_user(school.wren.user).post("/hours/from-file/publish/", {"proposal": shown}).status_code
        == 412
    )
    for broken in (shown[:-1] + ("A" if shown[-1] != "A" else "B"), "", "x" * 500):
        assert (
            as_user(school.ilse.user)
            .post("/hours/from-file/publish/", {"proposal": broken})
            .status_code
            == 412
        )
    assert hours_of(school) == before
    ilses = {"instructor": school.ilse.pk}
    office = as_user(school.dag)
    by_admin = sealed(text_of(office.post("/hours/from-file/", {"calendar": ics(), **ilses})))
    assert (
        office.post("/hours/from-file/publish/", {"proposal": by_admin, **ilses}).status_code == 302
    )
    assert hours_of(school) == [(0, 930, 1230)]
