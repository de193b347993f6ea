"""An ill day through the API: suggested, decided, carried out."""

from datetime import timedelta

import pytest

from bookings.models import Booking, OutboxMessage
from tests.functional.api.client import Api
from tests.school.covering import DAY, CoveringSchool

pytestmark = pytest.mark.django_db
SEVEN = DAY + timedelta(hours=7)
HOURS = {"starts_at": "2027-03-12T00:00:00Z", "ends_at": "2027-03-13T00:00:00Z"}
ASKED = "cleared-hours/?from=2027-03-12&to=2027-03-13"


@pytest.fixture
def ill(monkeypatch: pytest.MonkeyPatch) -> CoveringSchool:
    """Friday 12 March, 07:00: Noor at 10:00, Kit at 13:00 and Posy at 14:00 with Ilse."""
    school = CoveringSchool()
    for student, hours in ((school.noor, 10), (school.kit, 13), (school.posy, 14)):
        school.book(student, hours)
    monkeypatch.setattr("bookings.clock.now", lambda: SEVEN)
    return school


def meeting_of(student) -> int:
    return Booking.objects.get(student=student).meeting_id


def test_remedies_are_suggested_and_nothing_is_done(ill: CoveringSchool) -> None:
    """Source: TRADE.md 8 (21): Wren is proposed as substitute."""
    answer = Api(ill.ilse.user).get(ASKED).json
    assert [(row["id"], row["remedy"]) for row in answer["results"]] == [
        (meeting_of(ill.noor), "call-off"),
        (meeting_of(ill.kit), "cover"),
        (meeting_of(ill.posy), "cover"),
    ]
    first, second, _ = answer["results"]
    assert first["substitute"] is None
    assert "Nobody else is free" in first["not_covered_reason"]
    assert second["substitute"] == {"id": ill.wren.pk, "name": "Wren Halloway"}
    assert Booking.objects.held().count() == 3


def test_what_is_decided_is_carried_out_in_one_act(ill: CoveringSchool) -> None:
    """Three remedies; each meeting is answered under what became of it."""
    api = Api(ill.ilse.user)
    digest = api.get(ASKED).json["meetings_digest"]
    noor, kit, posy = (meeting_of(one) for one in (ill.noor, ill.kit, ill.posy))
    decisions = [
        {"meeting": noor, "remedy": "call-off"},
        {"meeting": kit, "remedy": "cover", "substitute": ill.wren.pk},
        {"meeting": posy, "remedy": "move", "new_starts_at": "2027-03-13T14:00:00Z"},
    ]
    sent = {**HOURS, "decisions": decisions, "meetings_digest": digest}
    answer = api.post("cleared-hours/", {**sent, "call_off_reason": "Ilse travels."})
    assert answer.status == 200
    assert {name: [row["id"] for row in rows] for name, rows in answer.json.items()} == {
        "called_off": [noor],
        "covered": [kit],
        "moved": [posy],
    }
    assert answer.json["called_off"][0]["called_off_reason"] == "Ilse travels."
    assert answer.json["covered"][0]["instructor"]["name"] == "Wren Halloway"
    assert answer.json["moved"][0]["starts_at"] == "2027-03-13T14:00:00Z"
    again = api.post("cleared-hours/", sent)
    assert (again.status, again.code) == (412, "stale")


def test_a_digest_that_is_not_of_what_stands_there_is_stale(ill: CoveringSchool) -> None:
    """Somebody has joined since it was read."""
    decisions = [
        {"meeting": meeting_of(one), "remedy": "call-off"} for one in (ill.noor, ill.kit, ill.posy)
    ]
    sent = {**HOURS, "decisions": decisions, "meetings_digest": "0" * 64}
    assert Api(ill.ilse.user).post("cleared-hours/", sent).status == 412
    assert Booking.objects.held().count() == 3


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"ends_at": HOURS["starts_at"]}, 422, "end-before-start"),
        ({"ends_at": "2027-06-12T00:00:00Z"}, 422, "invalid"),
        ({"starts_at": "2027-03-10T00:00:00Z", "ends_at": "2027-03-11T00:00:00Z"}, 409, "past"),
        ({"decisions": []}, 412, "stale"),
        ({"remedy": "cover"}, 422, "invalid"),
        ({"remedy": "cover", "substitute": 999_999}, 422, "invalid"),
        ({"remedy": "cover", "substitute": "wren"}, 409, "plan-outdated"),
        ({"remedy": "move", "new_starts_at": "2027-03-12T20:00:00Z"}, 422, "invalid"),
    ],
)
def test_what_cannot_be_done_is_refused_whole(
    ill: CoveringSchool, change: dict[str, object], status: int, code: str
) -> None:
    """Hours that end before they begin, are too long or over; a meeting without a decision; a cover
    by nobody, by somebody unknown, by Wren in the morning; a move within the hours.
    """
    decided = {name: change[name] for name in change if name not in (*HOURS, "decisions")}
    if decided.get("substitute") == "wren":
        decided["substitute"] = ill.wren.pk
    decisions = [
        {"meeting": meeting_of(ill.noor), "remedy": "call-off", **decided},
        {"meeting": meeting_of(ill.kit), "remedy": "call-off"},
        {"meeting": meeting_of(ill.posy), "remedy": "call-off"},
    ]
    sent = {name: change[name] for name in change if name in (*HOURS, "decisions")}
    answer = Api(ill.ilse.user).post("cleared-hours/", {**HOURS, "decisions": decisions, **sent})
    assert (answer.status, answer.code) == (status, code)
    assert Booking.objects.held().count() == 3
    assert not OutboxMessage.objects.filter(made_at=SEVEN).exists()


def test_days_away_take_the_same_decisions(ill: CoveringSchool) -> None:
    """Nothing is offered on the day afterwards, and each meeting is answered under its remedy."""
    api = Api(ill.ilse.user)
    noor, kit, posy = (meeting_of(one) for one in (ill.noor, ill.kit, ill.posy))
    decisions = [
        {"meeting": noor, "remedy": "propose"},
        {"meeting": kit, "remedy": "cover", "substitute": ill.wren.pk},
        {"meeting": posy, "remedy": "move"},
    ]
    day = {"first_on": "2027-03-12", "last_on": "2027-03-12"}
    answer = api.post("days-away/", {**day, "decisions": decisions})
    assert answer.status == 201
    assert [row["id"] for row in answer.json["called_off"]] == [noor]
    assert [row["id"] for row in answer.json["covered"]] == [kit]
    assert [row["id"] for row in answer.json["moved"]] == [posy]
    assert answer.json["moved"][0]["starts_at"] >= "2027-03-13"
    assert len(api.get("days-away/").json["results"]) == 1


def test_cleared_hours_are_read_and_removed_among_the_days_away(ill: CoveringSchool) -> None:
    """A program that shows when somebody teaches reads from when to when they do not."""
    api = Api(ill.ilse.user)
    hours = {"starts_at": "2027-03-12T16:00:00Z", "ends_at": "2027-03-12T18:30:00Z"}
    assert api.post("cleared-hours/", {**hours, "decisions": []}).status == 200
    (row,) = api.get("days-away/").json["results"]
    assert (row["first_on"], row["last_on"]) == ("2027-03-12", "2027-03-12")
    assert (row["from_time"], row["to_time"]) == ("16:00", "18:30")
    assert api.ask("DELETE", f"days-away/{row['id']}/").status == 204
