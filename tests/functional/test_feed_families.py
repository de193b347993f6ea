"""A guardian's calendar follows the guardian's rights: a birthday, the child's own account and a
removal change it.

Nobody writes to a feed on a birthday, so its validators have to tell (RFC 9110 sections 8.8.2 and
8.8.3).
"""

from datetime import date, datetime, timedelta

import pytest
from django.test import Client

from accounts.models import Guardianship, Student, User
from bookings.door import write
from bookings.models import Feed, Meeting, OutboxMessage
from bookings.operations.guardians import remove_guardian
from bookings.operations.invitations import come_in, invite
from bookings.operations.people import change_me
from bookings.operations.subscriptions import open_feed
from bookings.queries.calendars import events_for
from tests.cast import (
    NOW,
    at,
    give_account,
    make_admin,
    make_booking,
    make_instructor,
    make_meeting,
    make_minor,
    make_offering,
    make_user,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]

MIDNIGHT = at("2027-05-31T14:00Z")
"""1 June 2027 begins in Sydney."""


@pytest.fixture
def hedda() -> User:
    return make_user("Hedda Lindqvist-Reed", "Australia/Sydney")


@pytest.fixture
def posy(hedda: User) -> Student:
    return make_minor(guardian=hedda, adult_on=date(2027, 6, 1))


@pytest.fixture
def lesson(posy: Student) -> Meeting:
    meeting = make_meeting(make_offering(), make_instructor(), at("2027-06-07T09:00Z"))
    make_booking(meeting, posy)
    return meeting


def address(owner: User) -> str:
    return f"/calendar/{open_feed(actor=owner, label='Phone', now=NOW)[1]}.ics"


def fetch(path: str, **headers: str):
    names = {name.replace("_", "-"): text for name, text in headers.items()}
    return Client().get(path, headers=names)


def test_a_birthday_changes_the_feed_and_nobody_writes(
    hedda: User, posy: Student, lesson: Meeting, clock: list[datetime]
) -> None:
    """At midnight of the child's own clock, in the middle of a day of UTC, the tag and the date are
    others and the lesson is gone.
    """
    give_account(posy)
    path = address(hedda)
    clock[0] = MIDNIGHT - timedelta(seconds=1)
    before = fetch(path)
    assert str(lesson.uid) in before.content.decode()
    clock[0] = MIDNIGHT + timedelta(seconds=1)
    by_tag = fetch(path, if_none_match=before["ETag"])
    by_date = fetch(path, if_modified_since=before["Last-Modified"])
    for after in (by_tag, by_date):
        assert after.status_code == 200
        assert str(lesson.uid) not in after.content.decode()
    assert Feed.objects.get().revision == 1
    assert fetch(path, if_none_match=by_tag["ETag"]).status_code == 304
    assert fetch(path, if_modified_since=by_date["Last-Modified"]).status_code == 304


def test_a_grown_child_without_an_account_stays_in_the_calendar(
    hedda: User, lesson: Meeting, clock: list[datetime]
) -> None:
    """Nothing changes at midnight: the guardian goes on booking, and a calendar is told so."""
    path = address(hedda)
    clock[0] = MIDNIGHT - timedelta(seconds=1)
    before = fetch(path)
    clock[0] = MIDNIGHT + timedelta(seconds=1)
    assert fetch(path, if_none_match=before["ETag"]).status_code == 304
    assert fetch(path, if_modified_since=before["Last-Modified"]).status_code == 304


def test_an_account_of_their_own_ends_it_at_once(
    hedda: User, posy: Student, lesson: Meeting, clock: list[datetime]
) -> None:
    """The invited child makes an account: in the same moment the guardian's calendar shows the
    lesson no more.
    """
    path, now = address(hedda), MIDNIGHT + timedelta(days=1)
    clock[0] = now
    before = fetch(path)
    assert str(lesson.uid) in before.content.decode()
    secret = _invited(posy, now)
    clock[0] = now + timedelta(minutes=5)
    with_secret = {"secret": secret, "name": "Posy", "time_zone": "Australia/Sydney"}
    write(lambda: come_in(**with_secret, password="x" * 20, now=clock[0]), now=clock[0])
    clock[0] += timedelta(seconds=2)
    for after in (
        fetch(path, if_none_match=before["ETag"]),
        fetch(path, if_modified_since=before["Last-Modified"]),
    ):
        assert after.status_code == 200
        assert str(lesson.uid) not in after.content.decode()


def _invited(student: Student, now: datetime) -> str:
    invite(
        actor=make_admin(), email="posy@rowanmere.example", name="Posy", student=student, now=now
    )
    body = OutboxMessage.objects.get(kind="welcome").body
    return body.partition("/welcome/")[2].partition("/")[0]


def test_a_guardian_who_is_removed_sees_nothing_from_then_on(
    hedda: User, posy: Student, lesson: Meeting
) -> None:
    """The bytes kept for a day are another state's: the tag asks who is answered for, not only who
    has written.
    """
    path = address(hedda)
    before = fetch(path)
    assert str(lesson.uid) in before.content.decode()
    Guardianship.objects.filter(guardian=hedda, student=posy).delete()
    after = fetch(path, if_none_match=before["ETag"])
    assert after.status_code == 200
    assert str(lesson.uid) not in after.content.decode()
    assert events_for(hedda, now=NOW) == []


def test_a_date_alone_follows_a_removed_guardian(
    hedda: User, posy: Student, lesson: Meeting, clock: list[datetime]
) -> None:
    """RFC 9110 section 13.1.3: a calendar that keeps no tags asks by date.

    The removal revises the feed in its own step.
    """
    consent = {"consent_at": NOW, "consent_wording": "2026-11"}
    Guardianship.objects.create(guardian=make_user("Tarn Reed"), student=posy, **consent)
    path = address(hedda)
    before = fetch(path)
    assert str(lesson.uid) in before.content.decode()
    clock[0] += timedelta(minutes=5)
    gone = Guardianship.objects.get(guardian=hedda, student=posy)
    admin = make_admin()
    write(lambda: remove_guardian(actor=admin, guardianship=gone, now=clock[0]), now=clock[0])
    for _ in range(2):  # within the same second there is no date to go by yet
        after = fetch(path, if_modified_since=before["Last-Modified"])
        assert after.status_code == 200
        assert str(lesson.uid) not in after.content.decode()
        clock[0] += timedelta(seconds=1)


def test_a_date_alone_follows_a_birthday_that_another_clock_moves(
    hedda: User, posy: Student, lesson: Meeting, clock: list[datetime]
) -> None:
    """Of age in Sydney, then in Los Angeles, where it is still the day before: the lesson is the
    guardian's again for a while.
    """
    account = give_account(posy)
    path = address(hedda)
    clock[0] = MIDNIGHT + timedelta(hours=1)
    grown = fetch(path)
    assert str(lesson.uid) not in grown.content.decode()
    clock[0] += timedelta(hours=1)
    zone = "America/Los_Angeles"
    write(lambda: change_me(actor=account, time_zone=zone, now=clock[0]), now=clock[0])
    clock[0] += timedelta(minutes=5)
    again = fetch(path, if_modified_since=grown["Last-Modified"])
    assert again.status_code == 200
    assert str(lesson.uid) in again.content.decode()


def test_a_childs_new_name_reaches_the_guardians_calendar(
    hedda: User, posy: Student, lesson: Meeting, clock: list[datetime]
) -> None:
    """Where the guardian asked for first names, another name is another calendar, by tag and by
    date.
    """
    account = give_account(posy)
    secret = open_feed(actor=hedda, label="Phone", names_children=True, now=NOW)[1]
    path = f"/calendar/{secret}.ics"
    before = fetch(path)
    assert "Posy: " in before.content.decode()
    clock[0] += timedelta(minutes=5)
    write(lambda: change_me(actor=account, name="Poppy Reed", now=clock[0]), now=clock[0])
    clock[0] += timedelta(minutes=5)
    by_tag = fetch(path, if_none_match=before["ETag"])
    by_date = fetch(path, if_modified_since=before["Last-Modified"])
    for after in (by_tag, by_date):
        assert (after.status_code, "Poppy: " in after.content.decode()) == (200, True)


def test_one_question_more_than_the_feed_itself(
    hedda: User, lesson: Meeting, django_assert_num_queries
) -> None:
    """304 costs two queries however many children there are: the feed's row, and whom its owner
    answers for.
    """
    for name in ("Kit Reed", "Lark Reed", "Finn Reed"):
        make_minor(name, guardian=hedda)
    path = address(hedda)
    first = fetch(path)
    with django_assert_num_queries(2):
        assert fetch(path, if_none_match=first["ETag"]).status_code == 304
