"""485 strings that have broken other programs, sent to the API in every text that can reach a
calendar.
"""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.cache import cache
from rest_framework.test import APIClient

from accounts.models import User
from bookings.calendars.text import one_line
from bookings.models import Feed, OutboxMessage
from tests import cast
from tests.cast import NOW
from tests.functional.api.school import FRIDAY, School, make_school
from tests.functional.outside.shapes import lines_of, read_by_icalendar

pytestmark = [pytest.mark.heavy, pytest.mark.node, pytest.mark.django_db]
BATCH = 49
"""So many strings are sent before the feed of as many meetings is read once."""


@pytest.fixture
def school(db: None) -> Iterator[School]:
    """The API's school, on Monday 1 March 2027 at 09:00 UTC."""
    with time_machine.travel(NOW, tick=False):
        yield make_school()


class Person:
    """Somebody at the API who is never held up by a throttle, and whose refusals say which field
    needs another look.
    """

    def __init__(self, user: User) -> None:
        self._client = APIClient()
        self._client.force_authenticate(user)
        self._asked = 0

    def _forget(self) -> None:
        """The throttles, which count on a clock that stands still, start anew long before the 600
        of a minute.
        """
        if self._asked % 200 == 0:
            cache.clear()
        self._asked += 1

    def sends(self, verb: str, path: str, field: str, text: str) -> Any:
        """The answer, or None where it was refused clearly."""
        self._forget()
        reply = getattr(self._client, verb)(
            f"/api/v1/{path}", {field: text}, headers={"If-Match": "*"}
        )
        if reply.status_code < 300:
            return reply.json()
        assert (reply.status_code, reply["Content-Type"]) == (422, "application/problem+json"), (
            field,
            text,
            reply.content,
        )
        assert [error["pointer"] for error in reply.json()["errors"]] == [f"#/{field}"], (
            field,
            text,
            reply.content,
        )
        return None

    def fetches(self, address: str) -> bytes:
        """The bytes of a calendar file."""
        self._forget()
        reply = self._client.get(address)
        assert (reply.status_code, reply["Content-Type"].partition(";")[0]) == (
            200,
            "text/calendar",
        ), reply.content
        return bytes(reply.content)


def meetings_in(written: bytes) -> dict[str, dict[str, Any]]:
    """The meetings that icalendar reads in the file, by UID; each line of it is as RFC 5545 section
    3.1 wants it.
    """
    lines_of(written)
    return {one["uid"]: one for one in read_by_icalendar(written)}


def renamed(people: list[Person], text: str) -> str | None:
    """The name that was kept for them, or None where it was refused."""
    name = None
    for person in people:
        if (answer := person.sends("patch", "me/", "name", text)) is not None:
            assert answer["name"] == text.strip(), text
            name = answer["name"]
    return name


def invitations_after(last: OutboxMessage | None, recipient: User) -> dict[str, dict[str, Any]]:
    """The newest invitation to each meeting that was made since, by UID."""
    sent = OutboxMessage.objects.filter(
        recipient=recipient, method="REQUEST", pk__gt=last.pk if last else 0
    )
    return {uid: one for row in sent for uid, one in meetings_in(row.calendar.encode()).items()}


def test_no_title_or_name_breaks_a_calendar(school: School, naughty: list[str]) -> None:
    """As the names of student and instructor and as a title: refused with the field's name, or kept
    as sent. Then their invitation is to whom it says, and the file and the feed hold every meeting
    under the title it was given.
    """
    noor, ilse = Person(school.noor.user), Person(school.ilse.user)
    meetings = [school.class_on(starts_at=FRIDAY + timedelta(days=day)) for day in range(BATCH)]
    bookings = [cast.make_booking(meeting, school.noor) for meeting in meetings]
    feed = noor.sends("post", "feeds/", "name", "Phone")["address"]
    file = f"/api/v1/bookings/{bookings[0].pk}/invitation.ics"
    name, kept = school.noor.user.name, 0
    for first in range(0, len(naughty), BATCH):
        titles, names, last = {}, {}, OutboxMessage.objects.order_by("pk").last()
        for meeting, text in zip(meetings, naughty[first : first + BATCH], strict=False):
            name = renamed([noor, ilse], text) or name
            answer = ilse.sends("patch", f"meetings/{meeting.pk}/", "title", text)
            if answer is not None:
                assert answer["title"] == text.strip(), text
                titles[str(meeting.uid)] = one_line(text)
                names[str(meeting.uid)] = one_line(name).replace("\\", "/")
        kept += len(titles)
        invitations = invitations_after(last, school.noor.user)
        shown = meetings_in(noor.fetches(feed))
        assert len(shown) == BATCH
        ((uid, downloaded),) = meetings_in(noor.fetches(file)).items()
        assert downloaded["summary"] == shown[uid]["summary"]
        for uid, title in titles.items():
            invited = (f"mailto:{school.noor.user.email}", names[uid])
            assert shown[uid]["summary"].startswith(f"{title} with "), title
            assert invitations[uid]["summary"].startswith(f"{title} with "), title
            assert invitations[uid]["attendees"] == [invited], title
    assert kept > 0.8 * len(naughty)


def test_no_name_or_room_breaks_a_calendar(school: School, naughty: list[str]) -> None:
    """As the name of a feed and as the address of a room: refused with the field's name, or kept;
    then the feed is whole.
    """
    marlo, noor, ilse, meeting = (
        Person(school.marlo.user),
        Person(school.noor.user),
        Person(school.ilse.user),
        school.class_on(),
    )
    cast.make_booking(meeting, school.noor)
    feed = noor.sends("post", "feeds/", "name", "Phone")["address"]
    for text in naughty:
        if (opened := marlo.sends("post", "feeds/", "name", text)) is not None:
            assert meetings_in(marlo.fetches(opened["address"])) == {}, text
            Feed.objects.filter(owner=school.marlo.user).delete()  # twenty are as many as may be
        if (
            room := ilse.sends("patch", f"meetings/{meeting.pk}/", "join_address", text)
        ) is not None:
            (found,) = meetings_in(noor.fetches(feed)).values()
            assert found["location"] == room["join_address"].replace("\\", "%5C"), text
