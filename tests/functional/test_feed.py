"""The calendar feed over HTTP: what calendars fetch, how cheaply they are told that nothing is new,
and what it never holds.
"""

import gzip
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client, RequestFactory

from accounts.models import User
from bookings import outbox
from bookings.domain.vocabulary import Ended, Kind, Standing
from bookings.feeds import calendar_feed
from bookings.models import Booking, Feed, Meeting
from bookings.operations.subscriptions import open_feed, renew_feed, revoke_feed
from bookings.queries.calendars import events_for
from tests.cast import (
    NOW,
    at,
    give_account,
    make_booking,
    make_instructor,
    make_meeting,
    make_minor,
    make_offering,
    make_student,
    make_user,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


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


def test_unknown_revoked_and_left_look_the_same(
    held: Booking, django_assert_num_queries: Any
) -> None:
    """404 with the same bytes and one look-up each, so nothing can be learned by asking."""
    owner = reader(held)
    feed, secret = open_feed(actor=owner, label="Old", now=NOW)
    revoke_feed(actor=owner, feed=feed, now=NOW)
    gone = make_user("Nobody Now")
    left = address(gone)
    User.objects.filter(pk=gone.pk).update(is_active=False)
    answers = []
    for path in ("/calendar/never-was.ics", f"/calendar/{secret}.ics", left):
        with django_assert_num_queries(1):
            answers.append(fetch(path))
        del answers[-1]["X-Request-ID"]  # by chance, and another one each time
    assert {
        (answer.status_code, answer.content, tuple(sorted(answer.headers.items())))
        for answer in answers
    } == {(404, b"Nothing here.\n", tuple(sorted(answers[0].headers.items())))}


def test_a_renewed_address_replaces_the_old_one(held: Booking) -> None:
    """Only a digest is stored; the old secret is nothing from that moment on."""
    owner = reader(held)
    feed, old = open_feed(actor=owner, label="Phone", now=NOW)
    _, new = renew_feed(actor=owner, feed=feed, now=NOW)
    assert old not in str(Feed.objects.values().get())
    assert fetch(f"/calendar/{old}.ics").status_code == 404
    assert fetch(f"/calendar/{new}.ics").status_code == 200


def test_a_meeting_that_was_left_is_cancelled_for_a_week_and_then_gone() -> None:
    """Shown CANCELLED until seven days after its start, without its join address; then dropped, so
    that none pile up.
    """
    offering = make_offering("Studio class", Kind.GROUP_MEETING, 50)
    meeting = make_meeting(
        offering, make_instructor(), at("2027-03-15T21:00Z"), title="Hands together", places=4
    )
    booking = make_booking(
        meeting,
        make_student(),
        standing=Standing.ENDED,
        ended_at=NOW,
        ended_why=Ended.CANCELLED_IN_TIME,
    )
    for now, shown in (
        (NOW, True),
        (at("2027-03-22T23:59Z"), True),
        (at("2027-03-24T00:00Z"), False),
    ):
        events = events_for(reader(booking), now=now)
        assert [(event.status, event.join_address) for event in events] == (
            [("CANCELLED", "")] if shown else []
        )
    (hers,) = events_for(meeting.instructor.user, now=NOW)
    assert (hers.status, hers.summary) == ("CONFIRMED", "Hands together")


def test_an_offer_is_not_in_the_feed_and_a_return_is() -> None:
    """Nothing is shown before they say yes, nor after they said no; who left and came back has the
    place.
    """
    offering = make_offering("Studio class", Kind.GROUP_MEETING, 50)
    meeting, noor = (
        make_meeting(offering, make_instructor(), at("2027-03-15T21:00Z"), places=4),
        make_student(),
    )
    offer = make_booking(meeting, noor, standing=Standing.OFFERED, answer_by=NOW)
    assert events_for(reader(offer), now=NOW) == []
    offer.standing, offer.ended_at, offer.ended_why = Standing.ENDED, NOW, Ended.DECLINED
    offer.save()
    assert events_for(reader(offer), now=NOW) == []
    make_booking(
        meeting, noor, standing=Standing.ENDED, ended_at=NOW, ended_why=Ended.CANCELLED_IN_TIME
    )
    make_booking(meeting, noor)
    assert [event.status for event in events_for(reader(offer), now=NOW)] == ["CONFIRMED"]


def test_a_guardian_sees_their_children_until_they_are_grown(held: Booking) -> None:
    """The child's meeting without the child's name; from the day they are an adult it is theirs
    alone.
    """
    hedda = make_user("Hedda Lindqvist-Reed", "Australia/Sydney")
    posy = make_minor(guardian=hedda, adult_on=at("2027-06-01T00:00Z").date())
    meeting = make_meeting(held.meeting.offering, make_instructor(), at("2027-03-15T09:00Z"))
    make_booking(meeting, posy)
    body = fetch(address(hedda)).content.decode()
    assert str(meeting.uid) in body
    assert "Posy" not in body
    assert str(held.meeting.uid) not in body
    assert events_for(hedda, now=at("2027-06-01T00:00Z")) == []


def test_what_changes_a_calendar_revises_its_feeds(held: Booking) -> None:
    """Enqueued messages revise the readers' feeds, and those of a minor whose guardian is the
    reader; no other.
    """
    hedda = make_user("Hedda Lindqvist-Reed", "Australia/Sydney")
    posy = make_minor(guardian=hedda)
    give_account(posy)
    feeds = [
        open_feed(actor=owner, label="Phone", now=NOW)[0]
        for owner in (hedda, posy.user, reader(held))
    ]
    bump(hedda, NOW + timedelta(minutes=1))
    assert [Feed.objects.get(pk=feed.pk).revision for feed in feeds] == [2, 2, 1]


def test_the_number_of_queries_does_not_grow(held: Booking, django_assert_num_queries: Any) -> None:
    """Taught meetings, students, bookings with offerings, instructors and their people, sequences:
    seven, whatever the number.
    """
    owner = reader(held)
    with django_assert_num_queries(7):
        assert len(events_for(owner, now=NOW)) == 1
    for day in range(16, 26):
        make_booking(
            make_meeting(
                held.meeting.offering, held.meeting.instructor, at(f"2027-03-{day}T21:00Z")
            ),
            held.student,
        )
    with django_assert_num_queries(7):
        assert len(events_for(owner, now=NOW)) == 11
