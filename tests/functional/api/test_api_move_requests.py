"""A family asks for another start; the instructor or an admin answers over the API, and an end leaves nothing open behind."""

from datetime import timedelta
from typing import Any

import pytest

from bookings import tasks
from bookings.domain.timeline import rfc3339
from bookings.models import Booking, MoveRequest, OutboxMessage
from tests.cast import NOW
from tests.functional.api.client import Api, snapshot
from tests.functional.api.school import FOR_POSY, FRIDAY, School

WANTED = FRIDAY + timedelta(hours=2)
LATER = FRIDAY + timedelta(hours=2, minutes=30)
BEYOND_HOURS = FRIDAY + timedelta(hours=8)


def ask(school: School, starts_at: Any = WANTED, **how: Any) -> dict[str, Any]:
    """Noor books Friday and asks for another start."""
    booking = school.booked()
    reply = Api(school.noor.user).post(
        f"bookings/{booking['id']}/move-requests/", {"starts_at": rfc3339(starts_at)}, **how
    )
    assert reply.status == 201, reply.body
    return reply.json


def answer(school: School, asked: dict[str, Any], say: str, data: Any = None, **how: Any) -> Any:
    ilse, path = Api(school.ilse.user), f"move-requests/{asked['id']}/"
    return ilse.post(f"{path}{say}/", data, match=how.pop("match", None) or ilse.etag(path), **how)


def end_by(school: School, way: str, booking: Booking) -> None:
    """Ends or moves the booking in one of the ways there are."""
    noor, dag, path = Api(school.noor.user), Api(school.dag), f"bookings/{booking.pk}/"
    if way == "cancel":
        reply = noor.post(f"{path}cancel/", match="*")
    elif way == "move":
        reply = noor.post(
            f"{path}move/", {"starts_at": (FRIDAY + timedelta(hours=1)).isoformat()}, match="*"
        )
    elif way == "call-off":
        reply = Api(school.ilse.user).post(
            f"meetings/{booking.meeting_id}/call-off/", {"reason": "A broken string"}, match="*"
        )
    elif way == "days-away":
        days = {
            "instructor": school.ilse.pk,
            "first_on": "2027-03-05",
            "last_on": "2027-03-05",
            "call_off_reason": "A concert",
        }
        reply = Api(school.ilse.user).post("days-away/", days)
    else:
        reply = dag.post(
            f"instructors/{school.ilse.pk}/dismiss/", {"call_off_reason": "She moves on."}
        )
    assert reply.status < 300, reply.body


@pytest.mark.parametrize("way", ["cancel", "move", "call-off", "days-away", "dismissal"])
def test_an_end_closes_what_was_asked(school: School, way: str) -> None:
    """However a booking ends or moves, no open request stays behind, and nobody can answer the closed one."""
    asked = ask(school)
    end_by(school, way, Booking.objects.get(pk=asked["booking"]))
    row = MoveRequest.objects.get()
    assert (row.state, row.answered_at) == ("closed", NOW)
    reply = Api(school.dag).post(f"move-requests/{row.pk}/accept/", match="*")
    assert (reply.status, reply.code) == (409, "already-ended")


def test_yes_moves_the_lesson(school: School) -> None:
    """The family reads "OPEN", the instructor accepts, the booking is at the start asked for and the family reads "ACCEPTED"."""
    asked = ask(school)
    assert (asked["standing"], asked["stands_at"], asked["starts_at"]) == (
        "OPEN",
        rfc3339(FRIDAY),
        rfc3339(WANTED),
    )
    done = answer(school, asked, "accept")
    assert (done.status, done.json["standing"], done.json["stands_at"]) == (
        200,
        "ACCEPTED",
        rfc3339(WANTED),
    )
    assert Booking.objects.get(pk=asked["booking"]).starts_at == WANTED
    (seen,) = Api(school.noor.user).get("move-requests/?standing=ACCEPTED").json["results"]
    assert seen["answered_at"] == rfc3339(NOW)


def test_no_keeps_the_lesson_and_sends_her_words(school: School) -> None:
    """Nothing moves; the family gets one plain letter with her words, since no calendar asked; a second answer is refused."""
    asked = ask(school)
    assert (
        answer(school, asked, "refuse", {"reason": "I rehearse on Fridays."}).json["standing"]
        == "REFUSED"
    )
    assert Booking.objects.get(pk=asked["booking"]).starts_at == FRIDAY
    told = OutboxMessage.objects.get(title__startswith="Not moved")
    assert (told.recipient, told.method) == (school.noor.user, "")
    assert "Why: I rehearse on Fridays." in told.body
    again = answer(school, asked, "accept")
    assert (again.status, again.code) == (409, "already-done")


def test_an_hour_that_she_does_not_teach_is_refused_when_asked(school: School) -> None:
    """Eleven in the evening is outside her hours: nothing is asked, and nobody is written to."""
    booking, before = school.booked(), snapshot()
    path, wish = f"bookings/{booking['id']}/move-requests/", {"starts_at": rfc3339(BEYOND_HOURS)}
    reply = Api(school.noor.user).post(path, wish)
    assert (reply.status, reply.code) == (409, "outside-hours")
    assert snapshot() == before


def test_a_start_against_the_rules_waits_until_she_opens_the_hour(school: School) -> None:
    """Her extra hours are gone before she answers: yes changes nothing until they are back."""
    evening = {
        "on": "2027-03-05",
        "opens": "23:00",
        "closes": "24:00",
        "instructor": school.ilse.pk,
    }
    assert Api(school.dag).post("extra-hours/", evening).status == 201
    asked = ask(school, BEYOND_HOURS)
    school.ilse.extra_hours.all().delete()
    before = snapshot()
    refused = answer(school, asked, "accept")
    assert (refused.status, refused.code) == (409, "outside-hours")
    assert snapshot() == before
    assert Api(school.dag).post("extra-hours/", evening).status == 201
    assert answer(school, asked, "accept").status == 200


def test_yes_is_to_the_start_that_she_has_read(school: School) -> None:
    """The family asks again meanwhile: it is still one request, and a yes to the older start is refused. No If-Match is refused too."""
    asked = ask(school)
    path = f"move-requests/{asked['id']}/"
    read = Api(school.ilse.user).etag(path)
    MoveRequest.objects.update(starts_at=BEYOND_HOURS, asked_at=NOW + timedelta(minutes=1))
    assert answer(school, asked, "accept", match=read).code == "stale"
    assert Api(school.ilse.user).post(f"{path}accept/").code == "version-needed"


def test_a_newer_wish_takes_the_place_of_the_older(school: School) -> None:
    """Asked twice in one second, there is one open request, for the later wish, and a letter about each."""
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
    """A button pressed twice: no second letter, and the tag by which the instructor has read it stays good."""
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


def test_the_notice_binds_the_family_and_not_who_says_yes(
    school: School, clock_stands_still: Any
) -> None:
    """An hour before, no family moves a lesson; who teaches it may be asked, and her yes moves it until it begins."""
    booking, noor = school.booked(), Api(school.noor.user)
    path, wish = (
        f"bookings/{booking['id']}/",
        {"starts_at": rfc3339(FRIDAY + timedelta(days=3))},
    )
    clock_stands_still.move_to(FRIDAY - timedelta(hours=1))
    assert noor.post(f"{path}move/", wish, match="*").code == "notice-passed"
    asked = noor.post(f"{path}move-requests/", wish).json
    assert answer(school, asked, "accept").json["stands_at"] == wish["starts_at"]
    asked = noor.post(
        f"{path}move-requests/", {"starts_at": rfc3339(FRIDAY + timedelta(days=4))}
    ).json
    clock_stands_still.move_to(FRIDAY + timedelta(days=3, minutes=1))
    assert noor.post(f"{path}move-requests/", wish).code == "past"
    assert answer(school, asked, "accept").code == "past"


def test_a_child_is_named_to_her_instructor_by_her_first_name(school: School) -> None:
    """Her guardian and admins read the whole name, her instructor the first."""
    booking = school.booked(school.hedda, student=school.posy.pk, starts_at=rfc3339(FOR_POSY))
    wish = {"starts_at": (FOR_POSY + timedelta(days=1)).isoformat()}
    assert Api(school.hedda).post(f"bookings/{booking['id']}/move-requests/", wish).status == 201
    names = [
        Api(who).get("move-requests/").json["results"][0]["student"]["name"]
        for who in (school.hedda, school.dag, school.ilse.user)
    ]
    assert names == [school.posy.full_name, school.posy.full_name, school.posy.first_name]


def test_what_nobody_answered_is_closed_when_the_lesson_begins(
    school: School, clock_stands_still: Any
) -> None:
    """Until then it stays open; after it nobody is asked to answer, and no family is told that a lesson of the past stays as it is."""
    asked = ask(school)
    for minutes, state in ((-1, "open"), (0, "closed"), (1, "closed")):
        clock_stands_still.move_to(FRIDAY + timedelta(minutes=minutes))
        tasks.enqueue_due()
        assert MoveRequest.objects.get().state == state
    assert answer(school, asked, "refuse").code == "already-ended"
    assert MoveRequest.objects.get().answered_at == FRIDAY
