"""A minor's surname and clock stay in the family: no other family reads either, anywhere."""

import pytest
from django.test import Client

from accounts.models import Student, User
from bookings.domain.vocabulary import PlaceKind
from bookings.door import write
from bookings.models import Meeting, OutboxMessage
from bookings.operations.places import book_place
from bookings.operations.subscriptions import open_feed
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api
from tests.functional.pages.school import School, as_user, make_school

HIDDEN = ("Hiddensurname", "Sydney")
"""Posy's surname, and the place of the clock that Posy lives by."""


@pytest.fixture
def school(db: None) -> School:
    return make_school()


@pytest.fixture
def circle(school: School) -> Meeting:
    """A group in which Posy and Noor have a place each, told to everybody concerned."""
    Student.objects.filter(pk=school.posy.pk).update(own_name="Posy Hiddensurname")
    User.objects.filter(pk=school.hedda.pk).update(time_zone="Europe/Dublin")
    posy = Student.objects.get(pk=school.posy.pk)
    starts_at = cast.at("2027-03-12T09:00Z")  # within Posy's day
    meeting = cast.make_meeting(school.circle.offering, school.ilse, starts_at, places=4)
    for student in (posy, school.noor):
        write(
            lambda one=student: book_place(
                actor=school.dag, student=one, meeting=meeting, place_kind=PlaceKind.PLAYER, now=NOW
            ),
            now=NOW,
        )
    return meeting


def leaks(text: str, hidden: tuple[str, ...] = HIDDEN) -> list[str]:
    return [word for word in hidden if word in text]


def test_no_page_of_another_family_shows_them(school: School, circle: Meeting) -> None:
    """The group's page, the lists, and the start page of a student in the same group."""
    noor = as_user(school.noor.user)
    for page in ("/meetings/", f"/meetings/{circle.pk}/", "/my-lessons/", "/calendars/", "/times/"):
        answer = noor.get(page)
        assert answer.status_code == 200, page
        shown = answer.content.decode()
        shown = shown.replace("Australia/Sydney", "") if "<option" in shown else shown
        assert leaks(shown) == [], page


def test_no_answer_of_the_api_holds_them(school: School, circle: Meeting) -> None:
    """Every list and the group itself, as another family reads them."""
    noor = Api(school.noor.user)
    for path in ("me/", "bookings/", "meetings/", f"meetings/{circle.pk}/", "offers/"):
        reply = noor.get(path)
        assert reply.status == 200, path
        assert leaks(reply.body.decode()) == [], path


def test_no_feed_or_email_of_another_family_holds_them(school: School, circle: Meeting) -> None:
    """Noor's feed, and every email but the family's own."""
    _, secret = open_feed(actor=school.noor.user, label="Phone", now=NOW)
    feed = Client().get(f"/calendar/{secret}.ics").content.decode().replace("\r\n ", "")
    assert str(circle.uid) in feed
    assert leaks(feed) == []
    rows = OutboxMessage.objects.exclude(recipient=school.hedda)
    assert rows.exists()
    for row in rows:
        assert leaks(row.title + row.body + row.calendar.replace("\r\n ", "")) == []


def test_no_teacher_reads_the_surname(school: School, circle: Meeting) -> None:
    """TRADE.md 8: no other family or teacher sees a minor's surname. On the roster's page, in the
    API and in the feed the child has a first name.
    """
    ilse, api = as_user(school.ilse.user), Api(school.ilse.user)
    for page in ("/meetings/", f"/meetings/{circle.pk}/", "/hours/"):
        shown = ilse.get(page).content.decode()
        assert leaks(shown, HIDDEN[:1]) == [], page
    assert "Posy" in ilse.get(f"/meetings/{circle.pk}/").content.decode()
    for path in ("bookings/", f"meetings/{circle.pk}/", f"meetings/{circle.pk}/roster/"):
        assert leaks(api.get(path).body.decode(), HIDDEN[:1]) == [], path
