"""A family asks for another start; the instructor or an admin answers over the API, and an end
leaves nothing open behind.
"""

from datetime import timedelta
from typing import Any

import pytest

from bookings import tasks
from bookings.domain.timeline import rfc3339
from bookings.models import Booking, MoveRequest, OutboxMessage
from tests.cast import NOW
from tests.functional.api.asking_to_move import BEYOND_HOURS, WANTED, answer, ask
from tests.functional.api.client import Api, snapshot
from tests.functional.api.school import FOR_POSY, FRIDAY, School


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
            f"instructors/{school.ilse.pk}/dismiss/", {"call_off_reason": "They move on."}
        )
    assert reply.status < 300, reply.body


@pytest.mark.parametrize("way", ["cancel", "move", "call-off", "days-away", "dismissal"])
def test_an_end_closes_what_was_asked(school: School, way: str) -> None:
    """However a booking ends or moves, no open request stays behind, and nobody can answer the
    closed one.
    """
    asked = ask(school)
    end_by(school, way, Booking.objects.get(pk=asked["booking"]))
    row = MoveRequest.objects.get()
    assert (row.state, row.answered_at) == ("closed", NOW)
    reply = Api(school.dag).post(f"move-requests/{row.pk}/accept/", match="*")
    assert (reply.status, reply.code) == (409, "already-ended")


def test_yes_moves_the_lesson(school: School) -> None:
    """The family reads "OPEN", the instructor accepts, the booking is at the start asked for and
    the family reads "ACCEPTED".
    """
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


def test_no_keeps_the_lesson_and_sends_their_words(school: School) -> None:
    """Nothing moves; the family gets one plain letter with their words, since no calendar asked; a
    second answer is refused.
    """
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


def test_a_start_against_the_rules_waits_until_they_open_the_hour(school: School) -> None:
    """Their extra hours are gone before they answer: yes changes nothing until they are back."""
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


def test_yes_is_to_the_start_that_they_have_read(school: School) -> None:
    """The family asks again meanwhile: it is still one request, and a yes to the older start is
    refused. No If-Match is refused too.
    """
    asked = ask(school)
    path = f"move-requests/{asked['id']}/"
    read = Api(school.ilse.user).etag(path)
    MoveRequest.objects.update(starts_at=BEYOND_HOURS, asked_at=NOW + timedelta(minutes=1))
    assert answer(school, asked, "accept", match=read).code == "stale"
    assert Api(school.ilse.user).post(f"{path}accept/").code == "version-needed"


def test_the_notice_binds_the_family_and_not_who_says_yes(
    school: School, clock_stands_still: Any
) -> None:
    """An hour before, no family moves a lesson; who teaches it may be asked, and their yes moves it
    until it begins.
    """
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


def test_a_child_is_named_to_their_instructor_by_their_first_name(school: School) -> None:
    """Their guardian and admins read the whole name, their instructor the first."""
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
    """Until then it stays open; after it nobody is asked to answer, and no family is told that a
    lesson of the past stays as it is.
    """
    asked = ask(school)
    for minutes, state in ((-1, "open"), (0, "closed"), (1, "closed")):
        clock_stands_still.move_to(FRIDAY + timedelta(minutes=minutes))
        tasks.enqueue_due()
        assert MoveRequest.objects.get().state == state
    assert answer(school, asked, "refuse").code == "already-ended"
    assert MoveRequest.objects.get().answered_at == FRIDAY
