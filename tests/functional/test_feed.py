"""The calendar feed over HTTP: what calendars fetch, how cheaply they are told that nothing is new,
and what it never holds.
"""

import gzip
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client, RequestFactory

from bookings.feeds import calendar_feed
from bookings.models import Booking, Meeting
from tests.cast import (
    at,
)
from tests.functional.feeds import address, bump, fetch, held, reader

__all__ = ["held"]

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def test_a_feed_shows_the_meeting_and_how_to_join(held: Booking) -> None:
    """One event with its UID and join address; no METHOD and no ATTENDEE (RFC 5545 section
    3.8.4.1); nobody is signed in.
    """
    answer = fetch(address(reader(held)))
    body = answer.content.decode().replace("\r\n ", "")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert f"UID:{held.meeting.uid}\r\n" in body
    assert "SUMMARY:Consultation with B. Tolliver\r\n" in body
    assert f"LOCATION:{held.meeting.join_address}\r\n" in body
    assert "METHOD" not in body
    assert "ATTENDEE" not in body
    assert not answer.cookies


def test_headers_keep_the_secret(held: Booking) -> None:
    """Private, not indexed, no referrer: the address is a key (RFC 9111 section 5.2.2 for the
    cache).
    """
    for path in (address(reader(held)), "/calendar/unknown.ics"):
        answer = fetch(path)
        assert answer["Cache-Control"] == "private, max-age=300"
        assert answer["X-Robots-Tag"] == "noindex"
        assert answer["Referrer-Policy"] == "no-referrer"


def test_nothing_new_costs_one_look_up(
    held: Booking, django_assert_max_num_queries: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """304 in two queries at most and without writing a calendar, body empty, validators repeated
    (RFC 9110 section 15.4.5).
    """
    path = address(reader(held))
    first = fetch(path)
    monkeypatch.setattr(
        "bookings.queries.calendars.feed_bytes",
        lambda *_, **__: pytest.fail("a calendar was written"),
    )
    with django_assert_max_num_queries(2):
        again = fetch(path, if_none_match=first["ETag"])
    assert (again.status_code, again.content) == (304, b"")
    for name in ("ETag", "Last-Modified", "Cache-Control", "Vary"):
        assert again[name] == first[name]


@pytest.mark.parametrize(
    ("template", "status"),
    [
        ("{0}", 304),
        ("W/{0}", 304),
        ('"other", {0}', 304),
        ("*", 304),
        ('"other"', 200),
        ("", 200),
    ],
)
def test_if_none_match(held: Booking, template: str, status: int) -> None:
    """A list, a star and weak tags, compared weakly (RFC 9110 section 13.1.2)."""
    path = address(reader(held))
    assert fetch(path, if_none_match=template.format(fetch(path)["ETag"])).status_code == status


def test_the_date_counts_only_without_a_tag(held: Booking) -> None:
    """RFC 9110 section 13.1.3: If-Modified-Since is ignored beside If-None-Match and where it is no
    date.
    """
    path = address(reader(held))
    since = fetch(path)["Last-Modified"]
    assert since == "Mon, 01 Mar 2027 09:00:00 GMT"
    assert fetch(path, if_modified_since=since).status_code == 304
    assert fetch(path, if_modified_since="Mon, 01 Mar 2027 08:59:59 GMT").status_code == 200
    assert fetch(path, if_modified_since=since, if_none_match='"other"').status_code == 200
    assert fetch(path, if_modified_since="yesterday").status_code == 200


def test_a_change_is_seen_by_tag_and_by_date(held: Booking, clock: list[datetime]) -> None:
    """A revision gives a new ETag and a later date; a change within the running second has no date
    yet, so none can hide it.
    """
    path, owner = address(reader(held)), reader(held)
    first = fetch(path)
    bump(owner, clock[0] + timedelta(milliseconds=200))
    clock[0] += timedelta(milliseconds=300)
    second = fetch(path, if_none_match=first["ETag"], if_modified_since=first["Last-Modified"])
    assert second.status_code == 200
    assert second["ETag"] != first["ETag"]
    assert "Last-Modified" not in second
    clock[0] += timedelta(seconds=1)
    assert fetch(path, if_modified_since=first["Last-Modified"]).status_code == 200
    assert fetch(path)["Last-Modified"] == "Mon, 01 Mar 2027 09:05:01 GMT"


def test_the_moving_window_is_a_change_too(held: Booking, clock: list[datetime]) -> None:
    """At midnight UTC the window moves: a new tag, and a date that says so, though nobody changed
    anything.
    """
    path = address(reader(held))
    first = fetch(path)
    clock[0] = at("2027-03-02T06:00Z")
    second = fetch(path, if_none_match=first["ETag"])
    assert second.status_code == 200
    assert second["Last-Modified"] == "Tue, 02 Mar 2027 00:00:00 GMT"


def test_the_same_state_gives_the_same_bytes(held: Booking) -> None:
    """Written anew, byte for byte the same; what is kept is used."""
    path = address(reader(held))
    first = fetch(path).content
    Meeting.objects.update(title="not in any revision")
    assert fetch(path).content == first
    cache.clear()
    Meeting.objects.update(title="")
    assert fetch(path).content == first


@pytest.mark.parametrize(
    ("accepted", "coding"),
    [
        ("gzip", "gzip"),
        ("br, gzip;q=0.5", "gzip"),
        ("GZIP; q=1", "gzip"),
        ("gzip;q=0", None),
        ("identity", None),
        ("", None),
    ],
)
def test_gzip_where_it_is_taken(held: Booking, accepted: str, coding: str | None) -> None:
    """Compressed bytes have their own strong tag (RFC 9110 section 8.8.3.3) and Vary says why."""
    path = address(reader(held))
    plain, answer = fetch(path), fetch(path, accept_encoding=accepted)
    assert answer.get("Content-Encoding") == coding
    assert (gzip.decompress(answer.content) if coding else answer.content) == plain.content
    assert (answer["ETag"] == plain["ETag"]) is (coding is None)
    assert answer["Vary"] == "Accept-Encoding"


def test_head_says_what_get_would(held: Booking) -> None:
    """The same headers, the length included, and no body (RFC 9110 section 9.3.2)."""
    path = address(reader(held))
    head, get = Client().head(path), fetch(path)
    assert head.content == b""
    assert head["Content-Length"] == str(len(get.content))
    assert head["ETag"] == get["ETag"]


def test_head_on_a_dead_feed_sends_no_body(db: None) -> None:
    """RFC 9110 section 9.3.2; Django's test client drops what gunicorn warns of, so the view itself
    is asked.
    """
    head = calendar_feed(RequestFactory().head("/calendar/never-was.ics"), "never-was")
    assert (head.status_code, head.content) == (404, b"")
    path = "/calendar/never-was.ics"
    assert Client().head(path)["Content-Length"] == fetch(path)["Content-Length"] == "14"


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete", "options"])
def test_nothing_else_is_taken(held: Booking, method: str) -> None:
    """A feed is read only: 405 names what is allowed."""
    answer = getattr(Client(enforce_csrf_checks=True), method)(address(reader(held)))
    assert (answer.status_code, answer["Allow"]) == (405, "GET, HEAD")
