"""What a family may ask for when it asks for another start, and how often."""

from datetime import timedelta
from typing import Any

import pytest

from bookings.domain.timeline import rfc3339
from bookings.models import MoveRequest, OutboxMessage
from tests.cast import NOW
from tests.functional.api.asking_to_move import BEYOND_HOURS, LATER, WANTED, answer, ask
from tests.functional.api.client import Api, snapshot
from tests.functional.api.school import FRIDAY, School


def test_an_hour_that_they_do_not_teach_is_refused_when_asked(school: School) -> None:
    """Eleven in the evening is outside their hours: nothing is asked, and nobody is written to."""
    booking, before = school.booked(), snapshot()
    path, wish = f"bookings/{booking['id']}/move-requests/", {"starts_at": rfc3339(BEYOND_HOURS)}
    reply = Api(school.noor.user).post(path, wish)
    assert (reply.status, reply.code) == (409, "outside-hours")
    assert snapshot() == before


def test_a_newer_wish_takes_the_place_of_the_older(school: School) -> None:
    """Asked twice in one second, there is one open request, for the later wish, and a letter about
    each.
    """
    first = ask(school)
    wish = {"starts_at": rfc3339(LATER)}
    second = Api(school.noor.user).post(f"bookings/{first['booking']}/move-requests/", wish).json
    assert (second["id"], second["starts_at"], MoveRequest.objects.count()) == (
        first["id"],
        rfc3339(LATER),
        1,
    )
    told = OutboxMessage.objects.filter(
        recipient=school.ilse.user, title__startswith="Asked to move"
    ).order_by("pk")
    assert [
        body.split("asks to move to ")[1][:18] for body in told.values_list("body", flat=True)
    ] == [
        "Fri 5 March 17:00,",
        "Fri 5 March 17:30,",
    ]


def test_the_same_wish_asked_again_changes_nothing(school: School, clock_stands_still: Any) -> None:
    """A button pressed twice: no second letter, and the tag by which the instructor has read it
    stays good.
    """
    first = ask(school)
    ilse, noor, before = Api(school.ilse.user), Api(school.noor.user), snapshot()
    read = ilse.etag(f"move-requests/{first['id']}/")
    clock_stands_still.shift(timedelta(seconds=2))
    again = noor.post(f"bookings/{first['booking']}/move-requests/", {"starts_at": rfc3339(WANTED)})
    assert (again.status, again.json, snapshot()) == (201, first, before)
    assert answer(school, first, "accept", match=read).status == 200


def test_a_retry_with_its_key_asks_and_answers_once(school: School) -> None:
    """The same Idempotency-Key gives the same bytes: one letter to the instructor, one move."""
    asked = ask(school)
    noor, path, wish = (
        Api(school.noor.user),
        f"bookings/{asked['booking']}/move-requests/",
        {"starts_at": rfc3339(LATER)},
    )
    assert noor.post(path, wish, key="once").body == noor.post(path, wish, key="once").body
    MoveRequest.objects.update(starts_at=WANTED)
    match = Api(school.ilse.user).etag(f"move-requests/{asked['id']}/")
    yes = [answer(school, asked, "accept", match=match, key="yes") for _ in range(2)]
    assert [reply.status for reply in yes] == [200, 200]
    assert yes[0].body == yes[1].body


@pytest.mark.parametrize(
    ("starts_at", "code"),
    [
        (NOW - timedelta(hours=1), "past"),
        (FRIDAY, "already-done"),
        (WANTED.replace(tzinfo=None), "naive-time"),
    ],
)
def test_a_wish_that_means_nothing_is_refused(school: School, starts_at: Any, code: str) -> None:
    """A start that has passed, the one it has, and one without a zone."""
    booking = school.booked()
    reply = Api(school.noor.user).post(
        f"bookings/{booking['id']}/move-requests/", {"starts_at": starts_at.isoformat()}
    )
    assert reply.code == code


def test_nothing_is_asked_of_a_group(school: School) -> None:
    """The time of a group is the school's."""
    meeting, noor = school.class_on(), Api(school.noor.user)
    place = noor.post("bookings/", {"meeting": meeting.pk}).json
    wish = {"starts_at": (FRIDAY + timedelta(days=9)).isoformat()}
    assert noor.post(f"bookings/{place['id']}/move-requests/", wish).code == "wrong-kind"
