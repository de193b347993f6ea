"""What each of the four roles does at the API, from end to end."""

from datetime import timedelta

import pytest
import time_machine

from bookings.models import Booking, Intake, Mark, OutboxMessage
from tests import cast
from tests.functional.api.client import Api
from tests.functional.api.school import FOR_POSY, FRIDAY, School


@pytest.fixture
def noor(school: School) -> Api:
    return Api(school.noor.user)


def test_a_token_opens_the_api_until_it_is_given_back(school: School) -> None:
    """Signing in with address and password gives a token that works as Bearer; after signing out it is unknown."""
    user = cast.make_user("Imogen Sorrel", "Europe/Dublin", password=cast.PASSWORD)
    signed = Api().post("tokens/", {"email": user.email.upper(), "password": cast.PASSWORD})
    assert signed.status == 201
    bearer = {"headers": {"Authorization": f"Bearer {signed.json['token']}"}}
    assert Api().get("me/", **bearer).json["name"] == "Imogen Sorrel"
    assert Api().delete("tokens/current/", **bearer).status == 204
    assert Api().get("me/", **bearer).code == "not-signed-in"


def test_unknown_addresses_and_wrong_passwords_are_answered_alike(school: School) -> None:
    """Whoever tries addresses learns nothing: the two answers have the same bytes."""
    user = cast.make_user("Imogen Sorrel", "Europe/Dublin", password=cast.PASSWORD)
    wrong = Api().post("tokens/", {"email": user.email, "password": "not-the-one"})
    unknown = Api().post(
        "tokens/", {"email": "nobody@rowanmere.example", "password": "not-the-one"}
    )
    assert (wrong.status, wrong.body) == (unknown.status, unknown.body)
    assert wrong.status == 401


def test_instructors_need_a_second_factor_where_it_is_required(school: School, settings) -> None:
    """In production a password alone does not open the API to an instructor, as it does not open the pages."""
    settings.SECOND_FACTOR_REQUIRED = True
    bram = cast.make_instructor("Bram Tolliver", "Australia/Lord_Howe", password=cast.PASSWORD)
    assert (
        Api().post("tokens/", {"email": bram.user.email, "password": cast.PASSWORD}).code
        == "not-allowed"
    )


def test_me_says_the_roles_and_whom_one_may_act_for(school: School, noor: Api) -> None:
    """A student acts for herself, a guardian for her child; an instructor finds the id to name."""
    assert noor.get("me/").json["roles"] == ["student"]
    hedda = Api(school.hedda).get("me/").json
    assert (hedda["roles"], [student["name"] for student in hedda["students"]]) == (
        ["guardian"],
        ["Posy Lindqvist-Reed"],
    )
    assert Api(school.ilse.user).get("me/").json["instructor"]["id"] == school.ilse.pk
    assert (
        noor.patch("me/", {"time_zone": "Asia/Kathmandu"}, match=noor.etag("me/")).json["time_zone"]
        == "Asia/Kathmandu"
    )


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
    asked = f"slots/?offering={school.consultation.pk}&instructor={school.ilse.pk}&from=2027-03-05&to=2027-03-06"
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
    }
    moved = noor.post(
        path + "move/",
        {"starts_at": "2027-03-05T11:00", "time_zone": "America/New_York"},
        match=written.etag,
    )
    assert moved.json["starts_at"] == "2027-03-05T16:00:00Z"
    asked = f"slots/?offering={school.consultation.pk}&instructor={school.ilse.pk}&from=2027-03-05&to=2027-03-06"
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


def test_a_guardian_books_for_her_child(school: School) -> None:
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


def test_an_instructor_publishes_her_hours_and_sees_what_they_leave_outside(school: School) -> None:
    """Shrinking the week lists the lessons that now lie outside it and keeps them."""
    booking, ilse = school.booked(), Api(school.ilse.user)
    before = ilse.get("teaching-hours/")
    assert before.json["windows"][0] == {"weekday": "MO", "opens": "09:00", "closes": "21:00"}
    windows = [{"weekday": "MO", "opens": "22:00", "closes": "24:00"}]
    after = ilse.put(
        "teaching-hours/", {"time_zone": "Europe/Dublin", "windows": windows}, match=before.etag
    )
    assert (after.json["windows"], [meeting["id"] for meeting in after.json["left_outside"]]) == (
        windows,
        [booking["meeting"]],
    )
    assert ilse.get("teaching-hours/").version == after.etag
    assert Booking.objects.get().standing == "HELD"


def test_extra_hours_and_days_away_come_and_go(school: School) -> None:
    """Both are added, listed and taken back; an admin names the instructor."""
    ilse, dag = Api(school.ilse.user), Api(school.dag)
    extra = ilse.post("extra-hours/", {"on": "2027-03-20", "opens": "06:00", "closes": "08:30"})
    assert (extra.status, extra.json["time_zone"]) == (201, "Europe/Dublin")
    away = dag.post(
        "days-away/",
        {"instructor": school.ilse.pk, "first_on": "2027-03-08", "last_on": "2027-03-09"},
    )
    assert (away.status, away.json["left_outside"]) == (201, [])
    assert len(dag.get(f"days-away/?instructor={school.ilse.pk}").json["results"]) == 1
    for made in (extra, away):
        assert ilse.delete(made.headers["Location"]).status == 204
        assert ilse.get(made.headers["Location"]).code == "not-found"


def test_a_group_fills_waits_and_passes_a_place_on(school: School, noor: Api) -> None:
    """Two places, a third who waits, a place given back, an offer accepted: counted right at each step."""
    dag, marlo, hedda = Api(school.dag), Api(school.marlo.user), Api(school.hedda)
    asked = {
        "offering": school.group.pk,
        "instructor": school.ilse.pk,
        "title": "Chords",
        "places": 1,
    }
    made = dag.post("meetings/", {**asked, "starts_at": "2027-03-10T09:00:00Z"})
    path = made.headers["Location"]
    booked = noor.post("bookings/", {"meeting": made.json["id"]})
    assert marlo.post("bookings/", {"meeting": made.json["id"]}).code == "no-place"
    assert [who.post(path + "waiting-list/", {}).json["rank"] for who in (marlo, hedda)] == [
        1,
        2,
    ]
    assert marlo.delete(path + "waiting-list/").status == 204
    noor.post(booked.headers["Location"] + "cancel/", match=booked.etag)
    (offer,) = hedda.get("offers/").json["results"]
    assert (offer["standing"], offer["student"]["name"]) == ("OFFERED", "Posy Lindqvist-Reed")
    assert hedda.get(f"bookings/{offer['id']}/invitation.ics").code == "not-yet"
    assert hedda.post(f"offers/{offer['id']}/accept/").json["standing"] == "HELD"
    (place,) = dag.get(path + "roster/").json["results"]
    assert place["student"]["name"] == "Posy Lindqvist-Reed"
    assert dag.get(path).json["taken"] == 1


def test_an_offer_declined_goes_to_the_next(school: School, noor: Api) -> None:
    """No is an answer too: the next in line has the offer at once."""
    meeting = school.class_on(places=1)
    cast.make_booking(meeting, school.noor)
    for student in (school.marlo, cast.make_student("Imogen Sorrel")):
        Api(student.user).post(f"meetings/{meeting.pk}/waiting-list/", {})
    noor.post(f"bookings/{Booking.objects.get().pk}/cancel/", match="*")
    offer = Booking.objects.get(standing="OFFERED")
    assert offer.student == school.marlo
    assert (
        Api(school.marlo.user).post(f"offers/{offer.pk}/decline/").json["ended_reason"]
        == "declined"
    )
    assert Booking.objects.get(standing="OFFERED").student.first_name == "Imogen"


def test_a_place_moves_to_another_meeting(school: School, noor: Api) -> None:
    """Leaving one meeting and joining another is one step: a full one changes nothing."""
    first, second, full = (
        school.class_on(starts_at=FRIDAY + timedelta(days=days)) for days in (4, 5, 6)
    )
    for student in (school.marlo, cast.make_student("Imogen Sorrel")):
        cast.make_booking(full, student)
    booked = noor.post("bookings/", {"meeting": first.pk})
    path = booked.headers["Location"]
    assert noor.post(path + "move/", {"meeting": full.pk}, match=booked.etag).code == "no-place"
    moved = noor.post(path + "move/", {"meeting": second.pk}, match=booked.etag)
    assert (moved.json["meeting"], moved.json["standing"]) == (second.pk, "HELD")
    assert noor.get(path).json["ended_reason"] in {"moved", "cancelled-in-time"}


def test_an_admin_keeps_the_roster_with_reasons(school: School) -> None:
    """Adding and removing say why; the instructor reads the roster and changes nothing on it."""
    meeting, dag, ilse = school.class_on(), Api(school.dag), Api(school.ilse.user)
    added = dag.post(
        f"meetings/{meeting.pk}/roster/",
        {"student": school.marlo.pk, "reason": "Asked by telephone"},
    )
    assert added.status == 201
    assert len(ilse.get(f"meetings/{meeting.pk}/roster/").json["results"]) == 1
    assert (
        ilse.post(
            f"meetings/{meeting.pk}/roster/", {"student": school.noor.pk, "reason": "Mine"}
        ).code
        == "not-allowed"
    )
    assert (
        dag.delete(
            f"meetings/{meeting.pk}/roster/",
            {"student": school.marlo.pk, "reason": "Ill"},
            match="*",
        ).status
        == 204
    )
    assert Booking.objects.get().ended_why == "removed"


def test_an_instructor_changes_marks_and_calls_off(
    school: School, clock_stands_still: time_machine.Traveller
) -> None:
    """Her own group meeting: made, changed, its register marked once it has begun; another is called off with a reason."""
    ilse = Api(school.ilse.user)
    body = {
        "offering": school.group.pk,
        "starts_at": "2027-03-10T18:00",
        "time_zone": "Europe/Dublin",
        "title": "Ornaments",
        "places": 5,
    }
    made = ilse.post("meetings/", body)
    assert (made.status, made.json["starts_at"]) == (201, "2027-03-10T18:00:00Z")
    path = made.headers["Location"]
    booked = Api(school.noor.user).post("bookings/", {"meeting": made.json["id"]})
    changed = ilse.patch(
        path, {"places": 8, "starts_at": "2027-03-11T18:00:00Z"}, match=ilse.etag(path)
    )
    assert (changed.json["places"], changed.json["starts_at"]) == (8, "2027-03-11T18:00:00Z")
    marks = {"marks": [{"booking": booked.json["id"], "attendance": "LATE"}]}
    assert ilse.put(path + "register/", marks, match=changed.etag).code == "not-yet"
    clock_stands_still.move_to(cast.at("2027-03-11T18:10:00Z"))
    marked = ilse.put(path + "register/", marks, match=ilse.etag(path))
    assert (marked.json["results"][0]["attendance"], Mark.objects.get().attendance) == (
        "LATE",
        "LATE",
    )
    assert ilse.post(path + "call-off/", {"reason": "Too late for that"}, match="*").code == "past"
    other = school.class_on(starts_at=FRIDAY + timedelta(days=20))
    assert (
        ilse.post(f"meetings/{other.pk}/call-off/", {"reason": "A broken string"}, match="*").json[
            "status"
        ]
        == "CANCELLED"
    )


def test_an_assessment_is_written_released_and_read(school: School, noor: Api) -> None:
    """A draft is its author's; released, it is on the brief, with its student and with an admin who says why."""
    booking, ilse = school.booked(), Api(school.ilse.user)
    draft = ilse.post(
        "assessments/",
        {
            "student": school.noor.pk,
            "level": 4,
            "unit": 2,
            "bands": {"tone": 3},
            "private_remarks": "Shy",
        },
    )
    path, latest = draft.headers["Location"], f"students/{school.noor.pk}/assessments/latest/"
    assert noor.get(latest).code == "not-found"
    assert ilse.post(path + "release/", match=draft.etag).code == "incomplete-note"
    ready = ilse.patch(
        path, {"next_step": "Close into the palm.", "goal": "Study 4 at 72"}, match=draft.etag
    )
    assert ilse.patch(path, {"goal": "Another"}, match=draft.etag).code == "stale"
    assert ilse.post(path + "release/", match=ready.etag).json["standing"] == "RELEASED"
    brief = ilse.get(f"bookings/{booking['id']}/brief/").json
    assert (brief["assessment"]["next_step"], brief["student_local_start"]) == (
        "Close into the palm.",
        "2027-03-05T10:00:00-05:00",
    )
    assert noor.get(latest).json["goal"] == "Study 4 at 72"
    assert Api(school.dag).get(latest).code == "invalid"
    assert Api(school.dag).post(latest, {"reason": "A question of her mother"}).status == 200
    again = ilse.patch(path, {"goal": "Study 5"}, match=ilse.etag(path))
    assert (again.json["version"], again.json["standing"], again.json["private_remarks"]) == (
        2,
        "DRAFT",
        "Shy",
    )


def test_every_reading_is_logged_before_the_text_is_shown(school: School, noor: Api) -> None:
    """Who read which note, as what, and an admin's reason; a refused reading logs nothing."""
    note = school.released(school.noor, school.wren)
    booking = school.booked()
    Api(school.ilse.user).get(f"bookings/{booking['id']}/brief/")
    noor.get(f"students/{school.noor.pk}/assessments/latest/")
    Api(school.dag).post(
        f"students/{school.noor.pk}/assessments/latest/", {"reason": "A complaint"}
    )
    Api(school.marlo.user).get(f"students/{school.noor.pk}/assessments/latest/")
    assert list(note.readings.order_by("pk").values_list("relation", "reason")) == [
        ("instructor", ""),
        ("family", ""),
        ("admin", "A complaint"),
    ]


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


def test_the_admin_books_for_anybody(school: School) -> None:
    """An admin names the student; the mail goes to the student all the same."""
    assert Api(school.dag).post("bookings/", school.slot()).code == "invalid"
    assert Api(school.dag).post("bookings/", school.slot(student=school.noor.pk)).status == 201
    assert OutboxMessage.objects.filter(recipient=school.noor.user, kind="invitation").count() == 1
    assert Intake.objects.count() == 0


def test_an_instructor_goes_away_over_a_lesson(school: School) -> None:
    """409 lists what stands in the way; asked to, the same call writes the days away and calls the lesson off."""
    booking, ilse = school.booked(), Api(school.ilse.user)
    days = {"first_on": "2027-03-05", "last_on": "2027-03-06"}
    refused = ilse.post("days-away/", days)
    assert (refused.status, refused.code, refused.json["meetings"][0]["id"]) == (
        409,
        "has-bookings",
        booking["meeting"],
    )
    went = ilse.post("days-away/", {**days, "call_off_reason": "Ilse is ill."})
    assert (went.status, [meeting["id"] for meeting in went.json["called_off"]]) == (
        201,
        [booking["meeting"]],
    )
    assert Booking.objects.get().ended_why == "called-off"


def test_an_admin_dismisses_an_instructor(school: School) -> None:
    """Her lesson ahead is listed, then called off if asked so; from then on she is not there to be booked."""
    booking, dag = school.booked(), Api(school.dag)
    path = f"instructors/{school.ilse.pk}/dismiss/"
    assert dag.post(path, {}).json["meetings"][0]["id"] == booking["meeting"]
    gone = dag.post(path, {"call_off_reason": "She moves on."})
    assert (gone.status, len(gone.json["called_off"])) == (200, 1)
    assert Api(school.noor.user).post("bookings/", school.slot()).status == 404
    assert dag.post("instructors/999999/dismiss/", {}).code == "not-found"
