"""Calendar addresses that show something else than one's own meetings: a roster's count, an
instructor's free/busy, children's names.
"""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from icalendar import Calendar
from knox.models import AuthToken

from accounts.models import User
from bookings import door
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind, PlaceKind
from bookings.models import Feed, Meeting
from bookings.operations.places import book_place
from bookings.operations.subscriptions import open_feed
from tests.cast import (
    NOW,
    at,
    make_admin,
    make_booking,
    make_instructor,
    make_meeting,
    make_minor,
    make_offering,
    make_policy,
    make_student,
    make_user,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def admin() -> User:
    return make_admin("Ada Fenwick")


@pytest.fixture
def circle() -> Meeting:
    make_policy(in_force_from=at("2026-01-01T00:00Z"))
    teacher = make_instructor("Ilse Quarrow", "Europe/Dublin")
    group = make_offering("Studio class", Kind.GROUP_MEETING, 60)
    return make_meeting(group, teacher, at("2027-03-15T18:00Z"), places=12, title="Ornaments")


def address(owner: User, **what: Any) -> str:
    return f"/calendar/{open_feed(actor=owner, label='Phone', **what, now=NOW)[1]}.ics"


def fetch(path: str, **headers: str) -> Any:
    return Client().get(
        path, headers={name.replace("_", "-"): text for name, text in headers.items()}
    )


def unfolded(answer: Any) -> str:
    return answer.content.decode().replace("\r\n ", "")


def test_a_roster_feed_counts_and_names_nobody(circle: Meeting, admin: User) -> None:
    """How many are in and where to see who; a place taken changes the tag; no name of a student, no
    ATTENDEE.
    """
    student = make_student("Noor Vale")
    path = address(admin, meeting=circle)
    before = fetch(path)
    assert "Players: 0 of 12." in unfolded(before)
    door.write(
        lambda: book_place(
            actor=admin, student=student, meeting=circle, place_kind=PlaceKind.PLAYER, now=NOW
        ),
        now=NOW,
    )
    after = fetch(path, If_None_Match=before["ETag"])
    assert after.status_code == 200
    assert "Players: 1 of 12." in unfolded(after)
    assert "Noor" not in unfolded(after)
    assert "ATTENDEE" not in unfolded(after)
    assert fetch(path, If_None_Match=after["ETag"]).status_code == 304
    assert "Last-Modified" not in after


def test_a_roster_feed_ends_with_the_admins_office(circle: Meeting, admin: User) -> None:
    """Whoever is no admin any more reads nothing at that address: it is decided at every fetch."""
    path = address(admin, meeting=circle)
    assert fetch(path).status_code == 200
    User.objects.filter(pk=admin.pk).update(is_staff=False, is_superuser=False)
    assert fetch(path).status_code == 404


def test_free_busy_tells_when_and_nothing_of_what(circle: Meeting, admin: User) -> None:
    """One VFREEBUSY (RFC 5545 section 3.6.4) in UTC with ORGANIZER; neighbouring meetings are one
    period, a cancelled one none.
    """
    teacher = circle.instructor
    lesson = make_offering()
    make_meeting(lesson, teacher, at("2027-03-15T19:05Z"), minutes=25)
    make_meeting(lesson, teacher, at("2027-03-17T10:00Z"), minutes=25)
    make_meeting(lesson, teacher, at("2027-03-18T10:00Z"), minutes=25, status="CANCELLED")
    answer = fetch(address(teacher.user, instructor=teacher))
    (told,) = Calendar.from_ical(answer.content).walk("VFREEBUSY")
    starts = (
        [(period.start, period.end) for period in told["FREEBUSY"]]
        if isinstance(told["FREEBUSY"], list)
        else []
    )
    assert [start for start, _ in starts] == [at("2027-03-15T18:00Z"), at("2027-03-17T10:00Z")]
    assert starts[0][1] >= at("2027-03-15T19:30Z")
    assert "ORGANIZER" in told
    assert told["DTSTART"].dt == at("2027-01-30T00:00Z")
    body = unfolded(answer)
    assert not [
        word
        for word in ("Ornaments", "Studio", "SUMMARY", "ATTENDEE", "VEVENT", "METHOD")
        if word in body
    ]


def test_free_busy_is_revised_with_the_instructors_meetings(circle: Meeting, admin: User) -> None:
    """A change that their letters tell them of changes the tag of the address that an admin opened
    too.
    """
    path = address(admin, instructor=circle.instructor)
    before = fetch(path)
    student = make_student("Noor Vale")
    door.write(
        lambda: book_place(
            actor=admin, student=student, meeting=circle, place_kind=PlaceKind.PLAYER, now=NOW
        ),
        now=NOW,
    )
    assert fetch(path)["ETag"] != before["ETag"]


def test_a_childs_name_stands_only_where_the_guardian_asked(circle: Meeting) -> None:
    """Their first name stands before what they are in, in that address and in no other."""
    guardian = make_user("Rhea Alder")
    child = make_minor("Posy Alder", guardian=guardian)
    make_booking(circle, child)
    assert "Posy" not in unfolded(fetch(address(guardian)))
    named = unfolded(fetch(address(guardian, names_children=True)))
    assert "SUMMARY:Posy: Ornaments with I. Quarrow\r\n" in named
    assert "Alder" not in named


def test_when_it_was_last_read_is_kept_to_the_hour(
    circle: Meeting, clock: list[datetime], django_assert_num_queries: Any
) -> None:
    """The first fetch is noted, one within the hour is not, one after it is; and nothing new costs
    two statements at most.
    """
    path = address(circle.instructor.user)
    tag = fetch(path)["ETag"]
    first = clock[0]
    clock[0] = first + timedelta(minutes=59)
    with django_assert_num_queries(2):
        assert fetch(path, If_None_Match=tag).status_code == 304
    assert Feed.objects.get().fetched_at == first
    clock[0] = first + timedelta(minutes=61)
    fetch(path)
    assert Feed.objects.get().fetched_at == clock[0]


def test_an_address_shows_one_thing(circle: Meeting, admin: User) -> None:
    """Two things in one address are refused by rule, and by the database where a rule is missed."""
    with pytest.raises(Refused):
        open_feed(actor=admin, label="Both", meeting=circle, instructor=circle.instructor, now=NOW)
    with pytest.raises(Refused):
        open_feed(actor=admin, label="Both", meeting=circle, names_children=True, now=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        Feed.objects.create(
            owner=admin, label="x", kind="roster", secret_digest="x", revised_at=NOW, opened_at=NOW
        )


def test_who_may_open_which_address(circle: Meeting, admin: User) -> None:
    """A roster is for admins, when an instructor is taken is for them and admins; anybody else
    learns nothing by asking.
    """
    noor, stranger = make_student("Noor Vale").user, make_instructor("Bram Tolliver").user
    asked = {"roster": {"meeting": circle.pk}, "free-busy": {"instructor": circle.instructor.pk}}
    answers = {}
    for who, user in {
        "student": noor,
        "teacher": circle.instructor.user,
        "another": stranger,
        "admin": admin,
    }.items():
        client = Client(
            headers={"Authorization": f"Bearer {AuthToken.objects.create(user=user)[1]}"}
        )
        for shows, what in asked.items():
            sent = client.post(
                "/api/v1/feeds/", {"name": "Phone", **what}, content_type="application/json"
            )
            answers[who, shows] = sent.status_code
            assert sent.status_code != 201 or sent.json()["kind"] == shows
    assert answers == {
        ("student", "roster"): 403,
        ("student", "free-busy"): 404,
        ("teacher", "roster"): 403,
        ("teacher", "free-busy"): 201,
        ("another", "roster"): 403,
        ("another", "free-busy"): 404,
        ("admin", "roster"): 201,
        ("admin", "free-busy"): 201,
    }


def test_the_page_opens_each_kind(circle: Meeting, admin: User) -> None:
    """An admin from a roster, an instructor from their calendars, a guardian with their children's
    names; each is listed as what it is.
    """
    guardian = make_user("Rhea Alder")
    make_minor("Posy Alder", guardian=guardian)
    for user, sent, said in (
        (admin, {"label": "Ornaments", "meeting": circle.pk}, "the places of Ornaments"),
        (
            circle.instructor.user,
            {"label": "Work", "shows": "free-busy"},
            "when Ilse Quarrow is busy",
        ),
        (guardian, {"label": "Phone", "names_children": "on"}, "with your children’s first names"),
    ):
        client = Client()
        client.force_login(user)
        answer = client.post("/calendars/", sent, follow=True)
        assert answer.status_code == 200, answer.content
        assert said in answer.content.decode()
