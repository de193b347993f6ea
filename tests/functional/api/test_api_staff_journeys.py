"""What instructors and admins do at the API, from end to end."""

from bookings.models import Booking, Intake, OutboxMessage
from tests.functional.api.client import Api
from tests.functional.api.noor import noor
from tests.functional.api.school import School

__all__ = ["noor"]


def test_an_instructor_publishes_their_hours_and_sees_what_they_leave_outside(
    school: School,
) -> None:
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


def test_an_assessment_is_written_released_and_read(school: School, noor: Api) -> None:
    """A draft is its author's; released, it is on the brief, with its student and with an admin who
    says why.
    """
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
        path, {"next_steps": ["Close into the palm."], "goal": "Study 4 at 72"}, match=draft.etag
    )
    assert ilse.patch(path, {"goal": "Another"}, match=draft.etag).code == "stale"
    assert ilse.post(path + "release/", match=ready.etag).json["standing"] == "RELEASED"
    brief = ilse.get(f"bookings/{booking['id']}/brief/").json
    assert (brief["assessment"]["next_steps"], brief["student_local_start"]) == (
        ["Close into the palm."],
        "2027-03-05T10:00:00-05:00",
    )
    assert noor.get(latest).json["goal"] == "Study 4 at 72"
    assert Api(school.dag).get(latest).code == "invalid"
    assert Api(school.dag).post(latest, {"reason": "A question of a parent"}).status == 200
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


def test_the_admin_books_for_anybody(school: School) -> None:
    """An admin names the student; the mail goes to the student all the same."""
    assert Api(school.dag).post("bookings/", school.slot()).code == "invalid"
    assert Api(school.dag).post("bookings/", school.slot(student=school.noor.pk)).status == 201
    assert OutboxMessage.objects.filter(recipient=school.noor.user, kind="invitation").count() == 1
    assert Intake.objects.count() == 0


def test_an_instructor_goes_away_over_a_lesson(school: School) -> None:
    """409 lists what stands in the way; asked to, the same call writes the days away and calls the
    lesson off.
    """
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
    """Their lesson ahead is listed, then called off if asked so; from then on they are not there to
    be booked.
    """
    booking, dag = school.booked(), Api(school.dag)
    path = f"instructors/{school.ilse.pk}/dismiss/"
    assert dag.post(path, {}).json["meetings"][0]["id"] == booking["meeting"]
    gone = dag.post(path, {"call_off_reason": "They move on."})
    assert (gone.status, len(gone.json["called_off"])) == (200, 1)
    assert Api(school.noor.user).post("bookings/", school.slot()).status == 404
    assert dag.post("instructors/999999/dismiss/", {}).code == "not-found"
