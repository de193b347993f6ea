"""Notes over HTTP: how they travel, what a follow-up brings, and what a request may not say."""

import re
from datetime import date, timedelta
from typing import Any

import pytest
import time_machine

from bookings.domain.timeline import rfc3339
from bookings.models import Assessment, Booking, OutboxMessage
from tests import cast
from tests.cast import NOW, at
from tests.functional.api.client import Api, Reply
from tests.functional.api.school import School
from tests.functional.feeds import address, fetch

FULL = {"next_steps": ["Close each finger."], "goal": "The study in G at 72."}


@pytest.fixture
def heard(school: School) -> Booking:
    """Noor's consultation with Ilse on Sunday 28 February, 09:00 in Dublin."""
    return cast.taught(school.ilse, school.noor, school.consultation)


def write(api: Api, booking: Booking, **says: Any) -> Reply:
    told = {"student": booking.student_id, "meeting": booking.meeting_id, **says}
    return api.post("assessments/", told)


def release(api: Api, draft: Reply, **how: Any) -> Reply:
    path = draft.headers["Location"]
    return api.post(f"{path}release/", how, match=api.etag(path))


def test_a_newer_note_travels_to_a_booking_made_before_and_stays_fourteen_days(
    school: School, heard: Booking, clock_stands_still: time_machine.Traveller
) -> None:
    """Acceptance scenario 11: Noor has booked Wren, then Ilse releases; Wren reads the newest note
    until 14 days after the lesson.
    """
    booking = school.booked(instructor=school.wren.pk)
    ilse, wren = Api(school.ilse.user), Api(school.wren.user)
    brief = f"bookings/{booking['id']}/brief/"
    assert wren.get(brief).json["assessment"] is None
    note = release(ilse, write(ilse, heard, **FULL)).json
    assert wren.get(brief).json["assessment"]["id"] == note["id"]
    over = at("2027-03-05T15:25Z")
    for days, seen in ((13, note["id"]), (14, None)):
        clock_stands_still.move_to(over + timedelta(days=days))
        shown = wren.get(brief).json["assessment"]
        assert (shown and shown["id"]) == seen
    assert wren.get(f"students/{school.noor.pk}/assessments/").status == 404


def test_a_follow_up_brings_one_message_with_times_in_the_students_zone(
    school: School, heard: Booking
) -> None:
    """Acceptance scenario 13: four weeks after a consultation; plan, caution and starts within 25
    to 31 days, each of which can be booked by its link.
    """
    ilse = Api(school.ilse.user)
    plan = [{"what": "Chords", "minutes": 10}]
    draft = write(ilse, heard, follow_up_weeks=4, practice=plan, **FULL)
    assert release(ilse, draft).json["follow_up_on"] == "2027-03-28"
    (email,) = OutboxMessage.objects.filter(kind="assessment", recipient=school.noor.user)
    assert "Your instructor suggests meeting again in four weeks." in email.body
    assert f"/practice/?student={school.noor.pk}" in email.body
    assert "ask a clinician" in email.body
    starts = re.findall(r"^  (\w+ \d+ \w+ \d\d:\d\d), New York: (\S+)$", email.body, re.MULTILINE)
    assert len(starts) == 3
    for _, link in starts:
        (named,) = re.findall(r"starts_at=([^&]+)", link)
        starts_at = at(named.replace("%3A", ":"))
        days = (starts_at.astimezone(school.noor.user.time_zone).date() - date(2027, 2, 28)).days
        assert 25 <= days <= 31
    chosen = school.slot(starts_at=rfc3339(starts_at))
    assert Api(school.noor.user).post("bookings/", chosen).status == 201


def test_no_start_is_suggested_where_the_next_lesson_is_agreed(
    school: School, heard: Booking
) -> None:
    """A lesson with the same instructor in those days says it already."""
    ilse = Api(school.ilse.user)
    agreed = cast.make_meeting(school.consultation, school.ilse, at("2027-03-29T14:00Z"))
    cast.make_booking(agreed, school.noor)
    release(ilse, write(ilse, heard, follow_up_weeks=4, **FULL))
    (email,) = OutboxMessage.objects.filter(kind="assessment")
    assert "suggests" not in email.body


def test_private_remarks_leave_neither_by_feed_nor_by_email(school: School, heard: Booking) -> None:
    """Scenario 12: the student's notes, feed, invitation and emails hold none of them."""
    ilse, noor = Api(school.ilse.user), Api(school.noor.user)
    booking = school.booked()
    release(ilse, write(ilse, heard, private_remarks="canary-5e1d", **FULL))
    read = noor.get(f"students/{school.noor.pk}/assessments/")
    assert [note["goal"] for note in read.json["results"]] == [FULL["goal"]]
    seen = [
        read.body,
        noor.get(f"students/{school.noor.pk}/assessments/latest/").body,
        noor.get(f"bookings/{booking['id']}/invitation.ics").body,
        fetch(address(school.noor.user)).content,
    ]
    emails = OutboxMessage.objects.values_list("title", "body", "calendar")
    assert all(b"canary" not in part for part in seen)
    assert "canary" not in str(list(emails))


def test_a_family_sees_who_has_read_the_note(school: School, heard: Booking) -> None:
    """By name and relation, without an admin's reason; nobody else is told."""
    ilse = Api(school.ilse.user)
    release(ilse, write(ilse, heard, **FULL))
    latest = f"students/{school.noor.pk}/assessments/latest/"
    Api(school.dag).post(latest, {"reason": "canary-of-the-reason"})
    read = Api(school.noor.user).get(latest)
    assert read.json["readings"] == [
        {"relation": "admin", "name": "Dag Emberley", "read_at": "2027-03-01T09:00:00Z"}
    ]
    assert b"canary" not in read.body
    assert Api(school.dag).post(latest, {"reason": "Again"}).json["readings"] is None


def test_bands_come_with_their_words(school: School, heard: Booking) -> None:
    """A number to compute with, a word to read."""
    draft = write(Api(school.ilse.user), heard, bands={"tone": 3})
    assert draft.json["bands"] == {"tone": {"band": 3, "word": "steady"}}


@pytest.mark.parametrize(
    ("says", "pointer"),
    [
        ({"goal": "x" * 10_000}, "goal"),
        ({"next_steps": ["a"] * 4}, "next_steps"),
        ({"heard": ["a\nb"]}, "heard"),
        ({"bands": {"whistling": 2}}, "bands"),
        ({"practice": [{"what": "Scales", "minutes": 0}]}, "practice"),
        ({"follow_up_weeks": 3}, "follow_up_weeks"),
        ({"heard_on": "2027-03-02"}, "heard_on"),
        ({"goal_on": "2027-02-01"}, "goal_on"),
        ({"meeting": 999_999}, "meeting"),
    ],
)
def test_what_a_note_cannot_say_is_named(
    school: School, heard: Booking, says: dict[str, Any], pointer: str
) -> None:
    """Each with the member that is wrong, and nothing is written."""
    refused = write(Api(school.ilse.user), heard, **says)
    assert refused.status in (404, 422)
    assert pointer in str(refused.json["errors"])
    assert not Assessment.objects.exists()


def test_emoji_and_right_to_left_text_come_back_as_they_were(
    school: School, heard: Booking
) -> None:
    """Byte for byte, to the author and to the student."""
    ilse, said = Api(school.ilse.user), "\u200fאצבע רביעית 🎵"
    release(ilse, write(ilse, heard, **{**FULL, "goal": said}))
    read = Api(school.noor.user).get(f"students/{school.noor.pk}/assessments/latest/")
    assert read.json["goal"] == said


def test_a_student_of_another_instructor_is_not_there(school: School, heard: Booking) -> None:
    """Neither to write about nor to read of."""
    wren = Api(school.wren.user)
    assert wren.post("assessments/", {"student": school.noor.pk}).status == 404
    assert wren.get(f"students/{school.noor.pk}/assessments/").status == 404


def test_releasing_twice_is_one_release(school: School, heard: Booking) -> None:
    """The second window is told; one email leaves."""
    ilse = Api(school.ilse.user)
    draft = write(ilse, heard, **FULL)
    assert release(ilse, draft).status == 200
    again = release(ilse, draft)
    assert (again.status, again.code) == (409, "already-released")
    assert OutboxMessage.objects.filter(kind="assessment").count() == 1


def test_a_colleagues_note_is_named_before_it_is_followed(school: School, heard: Booking) -> None:
    """409 with its id, author and date; the same request with `over` releases."""
    theirs, ilse = school.released(school.noor, school.wren), Api(school.ilse.user)
    draft = write(ilse, heard, **FULL)
    refused = release(ilse, draft)
    assert (refused.status, refused.code) == (409, "other-author")
    assert (refused.json["note"], refused.json["author"]["name"]) == (theirs.pk, "Wren Halloway")
    assert release(ilse, draft, over=theirs.pk, adopt=True).status == 200


def test_a_note_about_a_student_who_came_of_age_is_the_students(school: School) -> None:
    """Booked by the guardian of a child, heard of an adult: the guardian gets no email and reads
    nothing.
    """
    lark = cast.make_minor("Lark Reed", "Europe/Dublin", guardian=school.hedda, adult_on=NOW.date())
    account = cast.give_account(lark)
    heard = cast.taught(school.ilse, lark, school.consultation, NOW - timedelta(hours=20))
    ilse = Api(school.ilse.user)
    assert release(ilse, write(ilse, heard, **FULL)).status == 200
    told = OutboxMessage.objects.filter(kind="assessment")
    assert [message.recipient for message in told] == [account]
    history = f"students/{lark.pk}/assessments/"
    assert Api(school.hedda).get(history).status == 404
    assert len(Api(account).get(history).json["results"]) == 1
