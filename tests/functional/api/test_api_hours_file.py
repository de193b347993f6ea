"""Hours as a calendar file over the API: download, and a proposal that writes nothing."""

from bookings.models import AuditRow
from tests.functional.api.client import Api
from tests.functional.api.matrix_rows import AVAILABILITY
from tests.functional.api.school import School


def test_a_proposal_can_be_published_by_the_calls_for_hours(school: School) -> None:
    """What it answers is what PUT teaching-hours/ takes; until then nothing has changed."""
    api = Api(school.ilse.user)
    before = api.get("teaching-hours/").json
    told = api.ask("POST", "teaching-hours/proposal/", {"calendar": AVAILABILITY})
    assert (told.status, told.json["unexpressed"]) == (200, [])
    assert told.json["windows"] == [{"weekday": "MO", "opens": "15:30", "closes": "20:30"}]
    assert api.get("teaching-hours/").json == before
    assert not AuditRow.objects.exists()
    week = {"time_zone": told.json["time_zone"], "windows": told.json["windows"]}
    assert api.ask("PUT", "teaching-hours/", week, match="*").status == 200
    assert api.get("teaching-hours/").json["windows"] == told.json["windows"]


def test_the_download_reads_back_as_the_same_week(school: School) -> None:
    """A text/calendar file whose proposal is the published week."""
    api = Api(school.ilse.user)
    answer = api.get("teaching-hours/availability.ics")
    assert answer.status == 200
    told = api.ask("POST", "teaching-hours/proposal/", {"calendar": answer.body.decode()})
    assert told.json["windows"] == api.get("teaching-hours/").json["windows"]


def test_a_file_that_cannot_be_read_is_a_problem(school: School) -> None:
    """With the code that says what is wrong with it."""
    api = Api(school.ilse.user)
    for text, code in (
        ("hello", "calendar-unreadable"),
        ("BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", "invalid"),
        ("\x00", "control-characters"),
    ):
        assert api.ask("POST", "teaching-hours/proposal/", {"calendar": text}).code == code
    monthly = AVAILABILITY.replace("FREQ=WEEKLY", "FREQ=MONTHLY")
    reply = api.ask("POST", "teaching-hours/proposal/", {"calendar": monthly})
    assert (reply.status, reply.code) == (422, "invalid")
    assert "FREQ=MONTHLY" in reply.json["detail"]
