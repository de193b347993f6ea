"""Other calendars over the API: added, listed, renamed, removed; an address goes in and never comes
out.
"""

import pytest

from bookings.models import BusyCalendar, BusyPeriod
from tests import cast
from tests.functional.api.client import Api
from tests.functional.api.school import FRIDAY, School
from tests.unit.broken_calendars import BOMBS, BROKEN
from tests.unit.calendars_samples import calendar_of, entry

URL = "https://calendar.rowanmere.example/busy.ics?key=canary-7d31"
ICS = calendar_of(entry("DTSTART:20270305T150000Z", "DURATION:PT1H", "SUMMARY:Dentist")).decode()


@pytest.fixture
def noors(school: School) -> Api:
    return Api(school.noor.user)


def test_an_address_is_added_and_only_its_host_is_shown(noors: Api) -> None:
    """Added, listed, read, renamed, refused and removed, no answer holds more of the address than
    its host.
    """
    added = noors.post("busy-calendars/", {"name": "Choir", "address": URL}, key="a")
    path = f"busy-calendars/{added.json['id']}/"
    replies = [
        added,
        noors.post("busy-calendars/", {"name": "Choir", "address": URL}, key="a"),
        noors.get("busy-calendars/"),
        noors.get(path),
        noors.patch(path, {"name": "Choral society"}, match=added.etag),
        noors.patch(path, {"name": "Late"}, match=added.etag),
        noors.patch(path, {"name": "Blind"}),
        noors.post(path + "refresh/"),
        noors.post("busy-calendars/", {"name": "Choir", "address": URL.replace("https", "http")}),
        noors.delete(path, match=noors.etag(path)),
        noors.get(path),
    ]
    assert [reply.status for reply in replies] == [
        201,
        201,
        200,
        200,
        200,
        412,
        428,
        200,
        422,
        204,
        404,
    ]
    assert replies[1].body == added.body
    assert added.json["host"] == "calendar.rowanmere.example"
    assert not any(b"canary-7d31" in reply.body for reply in replies)
    assert not BusyCalendar.objects.exists()


def test_a_file_is_read_at_once_and_closes_starts(school: School, noors: Api) -> None:
    """Its hour is not offered any more and a booking into it says so; the student's clash is listed
    for them and not for the instructor.
    """
    booked = school.booked()
    added = noors.post("busy-calendars/", {"name": "Dentist", "calendar": ICS})
    assert (added.status, added.json["host"], added.json["next_at"]) == (201, "", None)
    assert added.json["fetched_at"] is not None
    assert BusyPeriod.objects.get().starts_at == FRIDAY
    assert [clash["id"] for clash in noors.get("busy-calendars/").json["clashing_bookings"]] == [
        booked["id"]
    ]
    for user in (school.ilse.user, school.dag):
        assert (
            Api(user).get(f"busy-calendars/?instructor={school.ilse.pk}").json["clashing_meetings"]
            == []
        )
    refused = noors.post(
        "bookings/", school.slot(instructor=school.wren.pk, starts_at="2027-03-05T15:30:00Z")
    )
    assert refused.code == "own-clash"
    assert all(
        slot["starts_at"] >= "2027-03-05T16:00" or slot["starts_at"] < "2027-03-05T15:00"
        for slot in refused.json["near"]
    )


def test_an_instructors_clash_is_listed_for_them_and_for_admins(school: School) -> None:
    """An admin is told which meeting, and neither the calendar nor its name; a colleague is told
    nothing.
    """
    meeting = cast.make_meeting(school.consultation, school.ilse, FRIDAY)
    Api(school.ilse.user).post("busy-calendars/", {"name": "Orchestra", "calendar": ICS})
    asked = f"busy-calendars/?instructor={school.ilse.pk}"
    ilses, admins = Api(school.ilse.user).get(asked).json, Api(school.dag).get(asked).json
    assert (
        [row["id"] for row in ilses["clashing_meetings"]]
        == [row["id"] for row in admins["clashing_meetings"]]
        == [meeting.pk]
    )
    assert ([row["name"] for row in ilses["results"]], admins["results"]) == (["Orchestra"], [])
    assert Api(school.wren.user).get(asked).status == 404


def test_a_guardian_adds_for_their_child_and_nobody_else_sees_it(school: School) -> None:
    """Posy has no account: Hedda adds; instructors, admins and other families find nothing at that
    address.
    """
    added = Api(school.hedda).post(
        "busy-calendars/", {"name": "Swimming", "calendar": ICS, "student": school.posy.pk}
    )
    assert added.status == 201
    path = f"busy-calendars/{added.json['id']}/"
    assert Api(school.hedda).get(path).status == 200
    for user in (school.ilse.user, school.dag, school.noor.user):
        assert Api(user).get(path).status == 404
        assert Api(user).get(f"busy-calendars/?student={school.posy.pk}").status == 404


@pytest.mark.parametrize(
    "sent",
    [
        {"name": "Both", "calendar": ICS, "address": URL},
        {"name": "Neither"},
        {"name": "", "calendar": ICS},
        {"name": "a" * 61, "calendar": ICS},
        {"name": "A list", "calendar": [ICS]},
        {"name": "Empty", "calendar": ""},
        {"name": "Port", "address": "https://calendar.rowanmere.example:8443/a.ics"},
        {"name": "Inside", "address": "https://localhost/a.ics"},
        {"name": "Broken", "calendar": BROKEN["30 February"].decode()},
        {"name": "Bomb", "calendar": BOMBS["by the second"].decode()},
        {"name": "Long", "calendar": BOMBS["longer than 2 MB"].decode()},
    ],
    ids=lambda sent: str(sent["name"])[:9],
)
def test_what_cannot_be_read_is_refused_and_nothing_is_stored(
    noors: Api, sent: dict[str, object]
) -> None:
    """422 with a sentence, and no row."""
    reply = noors.post("busy-calendars/", sent)
    assert reply.status == 422
    assert reply.json["detail"]
    assert not BusyCalendar.objects.exists()


def test_what_is_longer_than_any_calendar_is_not_read(noors: Api) -> None:
    """413 before the body is parsed, and elsewhere the limit stays what it was."""
    assert (
        noors.post("busy-calendars/", {"name": "Long", "calendar": "a" * 3_100_000}).status == 413
    )
    assert noors.post("feeds/", {"name": "a" * 200_000}).status == 413
