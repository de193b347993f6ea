"""What families do at the API, from end to end."""

from tests import cast
from tests.functional.api.client import Api
from tests.functional.api.noor import noor
from tests.functional.api.school import FOR_POSY, School

__all__ = ["noor"]


def test_offerings_say_their_rules_in_words(school: School, noor: Api) -> None:
    """Each offering names who teaches it and what booking it means, in sentences."""
    rows = {row["name"]: row for row in noor.get("offerings/").json["results"]}
    assert {person["name"] for person in rows["Consultation"]["instructors"]} == {
        "Ilse Quarrow",
        "Wren Halloway",
    }
    assert "Book at least 12 hours and at most 60 days ahead." in rows["Consultation"]["policy"]


def test_slots_are_on_both_clocks(school: School, noor: Api) -> None:
    """A slot says its instant, the reader's wall time and the instructor's, each with its zone."""
    asked = (
        f"slots/?offering={school.consultation.pk}&instructor={school.ilse.pk}&from=2027-03-05&"
        "to=2027-03-06"
    )
    slot = next(
        row for row in noor.get(asked).json["results"] if row["starts_at"] == "2027-03-05T15:00:00Z"
    )
    assert (slot["local_start"], slot["time_zone"]) == (
        "2027-03-05T10:00:00-05:00",
        "America/New_York",
    )
    assert (slot["instructor_local_start"], slot["instructor_time_zone"]) == (
        "2027-03-05T15:00:00+00:00",
        "Europe/Dublin",
    )
    elsewhere = noor.get(asked + "&time_zone=Asia/Kathmandu").json["results"][0]
    assert elsewhere["time_zone"] == "Asia/Kathmandu"


def test_the_days_ahead_are_dates_on_the_clock_of_the_answer(school: School, noor: Api) -> None:
    """One start is on Wednesday in New York and on Thursday in Kathmandu; it is Monday in both."""
    asked = f"offering={school.consultation.pk}&instructor={school.ilse.pk}&time_zone="
    span = "from=2027-03-03T18:30:00Z&to=2027-03-03T18:35:00Z"
    for time_zone, said in (("America/New_York", "In 2 days."), ("Asia/Kathmandu", "In 3 days.")):
        (slot,) = noor.get(f"slots/?{asked}{time_zone}&{span}").json["results"]
        one = f"student={school.noor.pk}&starts_at={slot['starts_at']}"
        told = noor.get(f"slots/explain/?{asked}{time_zone}&{one}").json
        assert slot["fit_reasons"][-1] == told["fit_reasons"][-1] == said
    near = noor.post("bookings/", school.slot(starts_at="2027-03-02T15:10:00Z")).json["near"]
    assert {slot["fit_reasons"][-1] for slot in near} == {"Tomorrow."}


def test_a_long_answer_says_where_to_go_on(school: School, noor: Api) -> None:
    """Following next_from gives every slot once, and never half of those that start together."""
    asked = f"slots/?offering={school.consultation.pk}&to=2027-03-07T00:00:00Z&from="
    whole = [
        (row["starts_at"], row["instructor"]["id"])
        for row in noor.get(asked + "2027-03-05T00:00:00Z").json["results"]
    ]
    pieces, since = [], "2027-03-05T00:00:00Z"
    while since:
        part = noor.get(asked + since + "&limit=7").json
        pieces += [(row["starts_at"], row["instructor"]["id"]) for row in part["results"]]
        since = part["next_from"]
    assert pieces == whole
    assert len(whole) > 14


def test_a_student_books_moves_writes_and_cancels(school: School, noor: Api) -> None:
    """One consultation through its life, each change made on the version that was read."""
    made = noor.post("bookings/", school.slot(intake={"questions": ["How loose is loose?"]}))
    path = made.headers["Location"]
    assert made.json["join_address"] == school.ilse.room
    assert made.json["cancel_by"] == "2027-03-04T15:00:00Z"
    written = noor.patch(path + "intake/", {"pieces": "Study 4"}, match=made.etag)
    assert written.json["intake"] == {
        "questions": ["How loose is loose?"],
        "pieces": "Study 4",
        "recordings": [],
        "obstacle": "",
        "practised_minutes": None,
    }
    moved = noor.post(
        path + "move/",
        {"starts_at": "2027-03-05T11:00", "time_zone": "America/New_York"},
        match=written.etag,
    )
    assert moved.json["starts_at"] == "2027-03-05T16:00:00Z"
    asked = (
        f"slots/?offering={school.consultation.pk}&instructor={school.ilse.pk}&from=2027-03-05&"
        "to=2027-03-06"
    )
    starts = [
        row["starts_at"] for row in noor.get(f"{asked}&moving={made.json['id']}").json["results"]
    ]
    assert "2027-03-05T16:00:00Z" not in starts  # the present time is no other time
    assert {"2027-03-05T15:30:00Z", "2027-03-05T16:30:00Z"} <= set(starts)
    ended = noor.post(path + "cancel/", match=moved.etag)
    assert (ended.json["standing"], ended.json["ended_reason"], ended.json["status"]) == (
        "ENDED",
        "cancelled-in-time",
        "CANCELLED",
    )
    assert ended.json["join_address"] == ""
    assert [row["id"] for row in noor.get("bookings/?standing=ENDED").json["results"]] == [
        made.json["id"]
    ]


def test_the_invitation_is_a_calendar_file(school: School, noor: Api) -> None:
    """The meeting can be downloaded while it is booked and not after."""
    booking = school.booked()
    file = noor.get(f"bookings/{booking['id']}/invitation.ics")
    assert file.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert b"DTSTART;TZID=Europe/Dublin:20270305T150000" in file.body
    noor.post(f"bookings/{booking['id']}/cancel/", match="*")
    assert noor.get(f"bookings/{booking['id']}/invitation.ics").code == "already-ended"


def test_a_guardian_books_for_their_child(school: School) -> None:
    """The only child is understood; a guardian of two says which."""
    booked = Api(school.hedda).post("bookings/", school.slot(starts_at=FOR_POSY.isoformat()))
    assert booked.json["student"]["name"] == "Posy Lindqvist-Reed"
    other = cast.make_minor("Fenn Lindqvist-Reed", guardian=school.hedda)
    refused = Api(school.hedda).post("bookings/", school.slot(starts_at="2027-03-06T09:00:00Z"))
    assert (refused.code, refused.json["errors"][0]["pointer"]) == ("invalid", "#/student")
    assert (
        Api(school.hedda)
        .post("bookings/", school.slot(starts_at="2027-03-06T09:00:00Z", student=other.pk))
        .status
        == 201
    )


def test_a_feed_shows_its_address_once(school: School, noor: Api) -> None:
    """Opened and renewed with an address, listed without one, gone when revoked."""
    opened = noor.post("feeds/", {"name": "Phone"})
    renewed = noor.post(opened.headers["Location"] + "renew/", match=opened.etag)
    assert opened.json["address"] != renewed.json["address"]
    assert noor.get("feeds/").json["results"] == [
        {name: renewed.json[name] for name in renewed.json if name != "address"}
    ]
    assert renewed.json["name"] == "Phone"
    assert (renewed.json["kind"], renewed.json["opened_at"]) == (
        "meetings",
        "2027-03-01T09:00:00Z",
    )
    assert Api().get("/calendar/" + renewed.json["address"].rpartition("/")[2]).status == 200
    assert noor.delete(opened.headers["Location"], match=renewed.etag).status == 204
    assert noor.get("feeds/").json["results"] == []
