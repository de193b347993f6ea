"""A write is judged by the version that its writer has read: stories of two who write."""

import threading
from collections import Counter

import pytest
import time_machine
from django.db import connection

from bookings.models import Booking, BusyCalendar, Feed, WaitingPlace
from tests import cast
from tests.functional.api.client import Api
from tests.functional.api.school import FRIDAY, School, make_school
from tests.functional.api.world import busy_calendar


def test_two_who_renew_one_address(school: School) -> None:
    """The second is told to read again: else the address that the first has just been shown would
    be dead without a word.
    """
    noor = Api(school.noor.user)
    opened = noor.post("feeds/", {"name": "Phone"})
    path = opened.headers["Location"]
    renewed = noor.post(path + "renew/", match=opened.etag)
    assert noor.post(path + "renew/", match=opened.etag).code == "stale"
    assert noor.delete(path, match=opened.etag).code == "stale"
    assert Api().get("/calendar/" + renewed.json["address"].rpartition("/")[2]).status == 200


def test_a_calendar_that_reads_a_feed_changes_no_version(school: School) -> None:
    """What its owner does is not made stale by a telephone that reads in the background."""
    noor = Api(school.noor.user)
    opened = noor.post("feeds/", {"name": "Phone"})
    assert Api().get("/calendar/" + opened.json["address"].rpartition("/")[2]).status == 200
    assert Feed.objects.get().fetched_at is not None
    assert noor.delete(opened.headers["Location"], match=opened.etag).status == 204


def test_ones_own_account_changed_by_the_school_meanwhile(school: School) -> None:
    """Whatever GET shows of oneself makes another tag: the name that the office has just mended is
    not overwritten unseen.
    """
    noor = Api(school.noor.user)
    read = noor.etag("me/")
    school.noor.user.name = "Noor Ashgrove-Lind"
    school.noor.user.save()
    assert noor.patch("me/", {"name": "Noor A."}, match=read).code == "stale"
    assert noor.patch("me/", {"name": "Noor A."}, match=noor.etag("me/")).json["name"] == "Noor A."


def test_an_exception_over_somebody_who_has_just_joined(school: School) -> None:
    """The admin passes over those who waited when they looked, and not over one whom they have not
    seen; nor do they remove unseen.
    """
    meeting = school.class_on(places=1)
    kit = cast.make_minor("Kit Sandoval", "Australia/Sydney", consent=False)
    meeting.waiting.create(student=kit, joined_at=cast.NOW)
    dag, path = Api(school.dag), f"meetings/{meeting.pk}/"
    ahead = {
        "student": school.marlo.pk,
        "reason": "The exam is on Monday",
        "ahead_of_waiting_list": True,
    }
    seen = {dag.get(path + part).version for part in ("", "roster/", "waiting-list/")}
    assert len(seen) == 1
    (read,) = seen
    joined = Api(school.noor.user).post(path + "waiting-list/", {"as": "player"})
    assert joined.status == 201
    assert dag.post(path + "roster/", ahead, match=read).code == "stale"
    assert dag.get(path + "waiting-list/").version != read


def test_an_offer_is_not_declined_unseen(school: School) -> None:
    """Who leaves the list with the tag of their joining is told that something has changed: they
    have been offered a place.
    """
    meeting = school.class_on(places=1)
    held = cast.make_booking(meeting, school.marlo)
    noor, path = Api(school.noor.user), f"meetings/{meeting.pk}/waiting-list/"
    joined = noor.post(path, {})
    Api(school.marlo.user).post(f"bookings/{held.pk}/cancel/", match="*")
    assert noor.delete(path, match=joined.etag).code == "stale"
    assert len(noor.get("offers/").json["results"]) == 1
    assert noor.delete(path).status == 204
    assert not WaitingPlace.objects.filter(ended_at__isnull=True).exists()


def test_a_mark_over_a_mark_that_was_not_seen(
    school: School, clock_stands_still: time_machine.Traveller
) -> None:
    """Of two who mark one register the second reads the first one's marks before theirs replace
    them.
    """
    meeting = school.class_on()
    held = cast.make_booking(meeting, school.noor)
    clock_stands_still.move_to(meeting.starts_at)
    ilse, dag, path = Api(school.ilse.user), Api(school.dag), f"meetings/{meeting.pk}/"
    read = dag.etag(path + "roster/")
    mark = {"marks": [{"booking": held.pk, "attendance": "LATE"}]}
    marked = ilse.put(path + "register/", mark, match=read)
    assert dag.put(path + "register/", mark, match=read).code == "stale"
    assert dag.put(path + "register/", mark, match=marked.etag).status == 200


def test_a_renamed_busy_calendar_is_not_removed_unseen(school: School) -> None:
    """Another name is another version; what is fetched of it is not."""
    calendar = busy_calendar(owner=school.noor.user)
    noor, path = Api(school.noor.user), f"busy-calendars/{calendar.pk}/"
    read = noor.etag(path)
    noor.patch(path, {"name": "Choir"}, match=read)
    assert noor.delete(path, match=read).code == "stale"
    assert BusyCalendar.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_one_tag_used_many_times_at_once_is_good_for_one_change() -> None:
    """Read once, sent by ten at the same instant: one change of the account, one renewal, one
    removal; all others are told 412.
    """
    school = make_school()
    noor, dag = Api(school.noor.user), Api(school.dag)
    feed = noor.post("feeds/", {"name": "Phone"})
    meeting = school.class_on(starts_at=FRIDAY)
    for student in (school.noor, school.marlo):
        cast.make_booking(meeting, student)
    roster, ids = (
        f"meetings/{meeting.pk}/roster/",
        list(Booking.objects.values_list("pk", flat=True)),
    )
    me, people = noor.etag("me/"), dag.etag(roster)
    asks = {
        "me": lambda i: Api(school.noor.user).patch("me/", {"name": f"Noor {i}"}, match=me),
        "feed": lambda i: Api(school.noor.user).post(
            feed.headers["Location"] + "renew/", match=feed.etag
        ),
        "roster": lambda i: Api(school.dag).delete(
            roster, {"booking": ids[i % 2], "reason": "Ill"}, match=people
        ),
    }
    gate, seen = threading.Barrier(30), Counter[tuple[str, int]]()

    def fire(name: str, i: int) -> None:
        gate.wait()
        try:
            status = asks[name](i).status
            seen[name, 200 if status < 300 else status] += 1
        finally:
            connection.close()

    threads = [threading.Thread(target=fire, args=(name, i)) for name in asks for i in range(10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert seen == {
        (name, status): count for name in asks for status, count in ((200, 1), (412, 9))
    }
