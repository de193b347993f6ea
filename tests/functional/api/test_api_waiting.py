"""The waiting list over HTTP, with the clock moved as the story goes."""

import re
from datetime import datetime, timedelta
from email.message import EmailMessage
from itertools import count
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings import tasks
from tests import cast
from tests.cast import at
from tests.functional.api.client import Api
from tests.functional.api.school import School
from tests.functional.pages.school import as_user, text_of
from tests.letters import written

pytestmark = pytest.mark.sql

STARTS = at("2027-03-16T02:15Z")
STARTS_LATER = (STARTS + timedelta(hours=2 * hour) for hour in count(1))
LEFT = at(
    "2027-03-13T02:15Z"
)  # three days before, 21:15 in New York on 12 March, the night before its clocks change


class Post:
    """Moves the clock, lets worker and beat have their turn, and reads what was written to whom."""

    def __init__(self, clock: time_machine.Traveller, folder: Path) -> None:
        self._clock, self._folder, self._seen = clock, folder, 0

    def at(self, instant: datetime) -> list[EmailMessage]:
        """What left at that instant; the tasks come twice, as a broker may deliver them."""
        self._clock.move_to(instant)
        for _ in range(2):
            tasks.enqueue_due()
            tasks.drain_outbox()
        mails = written(self._folder)
        new, self._seen = mails[self._seen :], len(mails)
        return new

    def to(self, who: Any, instant: datetime) -> list[str]:
        """The subjects of what they got then."""
        return [
            str(mail["Subject"]).strip()
            for mail in self.at(instant)
            if mail["To"].addresses[0].addr_spec == who.user.email
        ]


@pytest.fixture
def post(clock_stands_still: time_machine.Traveller, settings: Any, tmp_path: Path) -> Post:
    settings.EMAIL_BACKEND, settings.EMAIL_FILE_PATH = (
        "django.core.mail.backends.filebased.EmailBackend",
        str(tmp_path),
    )
    return Post(clock_stands_still, tmp_path)


def test_a_freed_place_is_offered_a_day_remembered_twice_and_passed_on_once(
    school: School, post: Post
) -> None:
    """Acceptance scenario 15: offered at 21:15 on 12 March in New York it runs to 21:15 on 13
    March; then the next, once.
    """
    meeting = school.class_on(places=1, starts_at=STARTS)
    marlo, noor, niamh = (
        Api(school.marlo.user),
        Api(school.noor.user),
        cast.make_student("Niamh Corrib", "Europe/Dublin"),
    )
    place = marlo.post("bookings/", {"meeting": meeting.pk})
    assert noor.post(f"meetings/{meeting.pk}/waiting-list/", {}).json["rank"] == 1
    assert Api(niamh.user).post(f"meetings/{meeting.pk}/waiting-list/", {}).json["rank"] == 2
    post.at(LEFT - timedelta(minutes=1))
    post._clock.move_to(LEFT)
    assert marlo.post(place.headers["Location"] + "cancel/", match=place.etag).status == 200

    (offer,) = noor.get("offers/").json["results"]
    assert offer["answer_by"] == "2027-03-14T02:15:00Z"
    (told,) = post.to(school.noor, LEFT)
    assert told.startswith("A place is offered until Sat 13 March 21:15, New York")
    half, quarter, over = (LEFT + timedelta(hours=hours) for hours in (12, 18, 24))
    for reminded in (half, quarter):
        assert post.to(school.noor, reminded - timedelta(minutes=1)) == []
        assert [subject.partition(":")[0] for subject in post.to(school.noor, reminded)] == [
            "Please answer by Sat 13 March 21"
        ]
    assert post.at(over - timedelta(minutes=1)) == []
    assert Api(niamh.user).get("offers/").json["results"] == []

    got = post.at(over)
    assert sorted(mail["To"].addresses[0].addr_spec for mail in got) == sorted(
        [school.noor.user.email, niamh.user.email]
    )
    assert noor.post(f"offers/{offer['id']}/accept/").code == "offer-ended"
    (next_offer,) = Api(niamh.user).get("offers/").json["results"]
    assert post.at(over + timedelta(minutes=1)) == []
    assert Api(niamh.user).post(f"offers/{next_offer['id']}/accept/").json["standing"] == "HELD"
    later = [
        str(mail["Subject"]).strip()
        for minutes in (60, 600, 1200)
        for mail in post.at(over + timedelta(minutes=minutes))
    ]
    assert not [
        subject for subject in later if subject.startswith(("To answer", "A place is offered"))
    ]


def test_an_admins_exception_over_the_api(school: School) -> None:
    """Ahead of a child whose consent is missing: refused without saying so, done when it is an
    exception, refused when full.
    """
    meeting = school.class_on(places=1, starts_at=STARTS)
    kit = cast.make_minor("Kit Sandoval", "Australia/Sydney", consent=False)
    meeting.waiting.create(student=kit, joined_at=cast.NOW)
    dag, path = Api(school.dag), f"meetings/{meeting.pk}/roster/"
    asked = {"student": school.marlo.pk, "reason": "The exam is on Monday"}
    assert dag.post(path, asked).code == "no-place"
    ahead, match = {**asked, "ahead_of_waiting_list": True}, dag.etag(path)
    assert dag.post(path, {**ahead, "reason": ""}, match=match).code == "invalid"
    assert dag.post(path, ahead).code == "version-needed"
    assert dag.post(path, ahead, match=match).status == 201
    assert (
        dag.post(path, {**ahead, "student": school.noor.pk}, match=dag.etag(path)).code
        == "no-place"
    )
    assert (
        dag.get(f"meetings/{meeting.pk}/waiting-list/").json["results"][0]["student"]["id"]
        == kit.pk
    )


RANK = re.compile(r"waiting list, (\w+)")


def rank_on_pages(who: Any, address: str) -> str:
    found = RANK.search(text_of(as_user(who.user).get(address)))
    return found[1] if found else ""


def test_pages_and_api_tell_one_rank(school: School, post: Post) -> None:
    """Who holds an offer waits no more: the next is first, to themselves and to who runs the
    meeting, on pages and over the API."""
    meeting = school.class_on(places=1, starts_at=STARTS)
    held = cast.make_booking(meeting, school.marlo)
    niamh = cast.make_student("Niamh Corrib", "Europe/Dublin")
    path = f"meetings/{meeting.pk}/waiting-list/"
    for student in (school.noor, niamh):
        assert Api(student.user).post(path, {}).status == 201
    assert Api(school.marlo.user).post(f"bookings/{held.pk}/cancel/", match="*").status == 200

    assert len(Api(school.noor.user).get("offers/").json["results"]) == 1
    assert Api(school.noor.user).get("waiting-places/").json["results"] == []
    (niamhs,) = Api(niamh.user).get("waiting-places/").json["results"]
    (first,) = Api(school.ilse.user).get(path).json["results"]
    assert niamhs == first
    assert (niamhs["rank"], niamhs["student"]["id"]) == (1, niamh.pk)
    assert rank_on_pages(niamh, "/my-lessons/") == "first"
    assert rank_on_pages(niamh, f"/meetings/{meeting.pk}/") == "first"
    roster = text_of(as_user(school.ilse.user).get(f"/meetings/{meeting.pk}/"))
    assert "Niamh Corrib, first" in roster


def test_who_is_offered_a_place_on_joining_has_no_rank(school: School) -> None:
    """A free place that the only one waiting may not take goes to who joins next, at once: they
    hold an offer, not a rank."""
    meeting = school.class_on(places=1, starts_at=STARTS)
    kit = cast.make_minor("Kit Sandoval", "Australia/Sydney", consent=False)
    meeting.waiting.create(student=kit, joined_at=cast.NOW)
    joined = Api(school.noor.user).post(f"meetings/{meeting.pk}/waiting-list/", {})
    assert (joined.status, joined.json["rank"]) == (201, None)
    assert len(Api(school.noor.user).get("offers/").json["results"]) == 1


@pytest.mark.parametrize("address", ["/api/v1/waiting-places/", "/my-lessons/"])
def test_waiting_lists_cost_the_same_however_many_there_are(school: School, address: str) -> None:
    """One question for all ranks of a page, for two lists and for nine."""
    client, costs = as_user(school.noor.user), []
    for lists in (2, 7):
        for _ in range(lists):
            meeting = school.class_on(places=1, starts_at=next(STARTS_LATER))
            for student in (school.marlo, school.noor):
                meeting.waiting.create(student=student, joined_at=cast.NOW)
        client.get(address)
        with CaptureQueriesContext(connection) as asked:
            assert text_of(client.get(address)).count("second" if "my" in address else ":2,") > 1
        costs.append(len(asked))
    assert costs[0] == costs[1]
