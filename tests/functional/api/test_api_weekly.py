"""Terms and weekly places over HTTP: a whole term at once, the hours that shift, siblings, and what
is refused.
"""

import pytest
import time_machine

from bookings.domain.vocabulary import Kind
from bookings.models import Meeting, OutboxMessage
from tests import cast
from tests.cast import at
from tests.functional.api.client import Api
from tests.functional.api.school import School
from tests.functional.api.weekly import TUESDAY, a_week_before_the_term, asked, place

pytestmark = pytest.mark.sql

__all__ = ["a_week_before_the_term", "place"]

SPRING = {
    "name": "Spring 2027",
    "first_on": "2027-01-11",
    "last_on": "2027-04-09",
    "lessons_promised": 12,
    "flex_last_on": "2027-04-16",
    "breaks": [{"first_on": "2027-02-15", "last_on": "2027-02-21", "name": "Half-term"}],
}


def test_an_admin_publishes_and_changes_a_term(school: School) -> None:
    """Published with its break, read by everybody, changed on the version that was read."""
    dag = Api(school.dag)
    made = dag.post("terms/", SPRING)
    assert made.status == 201
    path = made.headers["Location"]
    assert Api(school.noor.user).get("terms/").json["results"] == [
        {"id": made.json["id"], **SPRING}
    ]
    changed = dag.patch(
        path, {"last_on": "2027-04-16", "breaks": [], "flex_last_on": None}, match=made.etag
    )
    assert changed.json["flex_last_on"] is None
    assert (changed.json["last_on"], changed.json["breaks"], changed.json["left_outside"]) == (
        "2027-04-16",
        [],
        [],
    )
    assert dag.patch(path, {"name": "Late"}, match=made.etag).code == "stale"
    assert dag.patch(path, {"name": "Late"}).code == "version-needed"
    assert dag.post("terms/", SPRING).code == "invalid"
    assert dag.get("terms/99/").code == "not-found"


@pytest.mark.parametrize(
    ("code", "change"),
    [
        ("end-before-start", {"last_on": "2027-01-10"}),
        ("invalid", {"last_on": "2028-03-01"}),
        ("invalid", {"breaks": [{"first_on": "2027-04-05", "last_on": "2027-04-12"}]}),
        ("end-before-start", {"breaks": [{"first_on": "2027-03-05", "last_on": "2027-03-01"}]}),
        ("invalid", {"lessons_promised": 0}),
        ("invalid", {"lessons_promised": "12"}),
        ("end-before-start", {"flex_last_on": "2027-01-10"}),
        ("invalid", {"name": ""}),
        ("too-long", {"name": "x" * 81}),
    ],
)
def test_a_term_that_makes_no_sense_is_refused(
    school: School, code: str, change: dict[str, object]
) -> None:
    """Backwards, too long, a break that reaches outside, no lessons, no name: 422 and nothing is
    written.
    """
    reply = Api(school.dag).post("terms/", {**SPRING, **change})
    assert (reply.status, reply.code) == (422, code)
    assert Api(school.dag).get("terms/").json["results"] == []


def test_a_term_of_lessons_at_once(school: School, place: dict[str, int]) -> None:
    """TRADE scenario 1: 12 lessons exist, none on 16 February, the first on 12 January, the last on
    6 April.
    """
    marlo = Api(school.marlo.user)
    made = marlo.post("weekly-places/", {**place, **TUESDAY})
    assert made.status == 201
    dates = [lesson["starts_at"][:10] for lesson in made.json["lessons"]]
    assert (len(dates), dates[0], dates[-1], "2027-02-16" in dates) == (
        12,
        "2027-01-12",
        "2027-04-06",
        False,
    )
    bookings = marlo.get("bookings/?standing=HELD").json["results"]
    assert [row["id"] for row in bookings] == [lesson["booking"] for lesson in made.json["lessons"]]
    assert marlo.get(f"bookings/{bookings[0]['id']}/invitation.ics").status == 200
    assert marlo.get("weekly-places/").json["results"] == [made.json]
    assert (
        Api(school.ilse.user).get(made.headers["Location"]).json["student"]["name"] == "Marlo Vance"
    )


def test_the_hours_of_march_on_the_students_clock(
    school: School, place: dict[str, int], clock_stands_still: time_machine.Traveller
) -> None:
    """TRADE scenario 2: 11:30, 12:30, 12:30, 11:30 in New York on 9, 16, 23, 30 March, with the
    zone; one warning before the 16th.
    """
    marlo = Api(school.marlo.user)
    made = marlo.post("weekly-places/", {**place, **TUESDAY}).json
    clock_stands_still.move_to(at("2027-03-08T09:00Z"))
    march = marlo.get("bookings/?from=2027-03-09&to=2027-03-31").json["results"]
    assert [(row["local_start"], row["time_zone"]) for row in march] == [
        ("2027-03-09T11:30:00-05:00", "America/New_York"),
        ("2027-03-16T12:30:00-04:00", "America/New_York"),
        ("2027-03-23T12:30:00-04:00", "America/New_York"),
        ("2027-03-30T11:30:00-04:00", "America/New_York"),
    ]
    assert {row["instructor_local_start"][11:16] for row in march} == {"16:30"}
    assert made["shifts"] == [
        {"on": "2027-03-16", "from_time": "11:30", "to_time": "12:30"},
        {"on": "2027-03-30", "from_time": "12:30", "to_time": "11:30"},
    ]
    (warning,) = OutboxMessage.objects.filter(recipient=school.marlo.user, kind="shift")
    assert warning.due_at < at("2027-03-16T16:30Z")


def test_siblings_one_after_the_other_move_as_a_pair(school: School, place: dict[str, int]) -> None:
    """TRADE scenario 24: Kit and Lark have consecutive lessons; moving the first proposes the pair;
    one message goes out for both.
    """
    hedda = cast.make_user("Hedda Lindqvist-Reed", "Europe/Dublin")
    kit = cast.make_minor("Kit Lindqvist-Reed", "Europe/Dublin", guardian=hedda)
    lark = cast.make_minor("Lark Lindqvist-Reed", "Europe/Dublin", guardian=hedda)
    short = cast.make_offering("Short harp lesson", Kind.PRIVATE_LESSON, 25)
    cast.teaches(school.ilse, short)
    guardian, theirs = Api(hedda), {**place, "offering": short.pk}
    first = guardian.post("weekly-places/", {**theirs, **TUESDAY, "student": kit.pk})
    (beside,) = guardian.get(asked(theirs, student=lark.pk, after_place=first.json["id"])).json[
        "results"
    ]
    assert (beside["weekday"], beside["wall_time"]) == ("TU", "17:00")
    guardian.post(
        "weekly-places/", {**theirs, "weekday": "TU", "wall_time": "17:00", "student": lark.pk}
    )
    OutboxMessage.objects.all().delete()
    proposed = guardian.get(f"weekly-places/options/?moving={first.json['id']}&limit=100").json[
        "results"
    ]
    pairs = {(row["weekday"], row["wall_time"], row["following"]["wall_time"]) for row in proposed}
    assert ("TU", "17:00", "17:30") in pairs
    assert all(row["following"]["weekday"] == row["weekday"] for row in proposed)
    to = {"weekday": "TU", "wall_time": "18:00", "next_wall_time": "18:30"}
    moved = guardian.post(first.headers["Location"] + "move/", to, match=first.etag).json["results"]
    assert [(row["student"]["id"], row["wall_time"]) for row in moved] == [
        (kit.pk, "18:00"),
        (lark.pk, "18:30"),
    ]
    assert OutboxMessage.objects.filter(recipient=hedda, kind="told").count() == 1
    for student in (kit, lark):
        held = guardian.get(f"bookings/?standing=HELD&student={student.pk}").json["results"]
        assert {row["student"]["id"] for row in held} == {student.pk}


def test_leaving_a_place(
    school: School, place: dict[str, int], clock_stands_still: time_machine.Traveller
) -> None:
    """On Monday evening the next day's lesson stays, the others are off; a second time it is
    already left.
    """
    marlo = Api(school.marlo.user)
    made = marlo.post("weekly-places/", {**place, **TUESDAY})
    clock_stands_still.move_to(at("2027-03-29T17:00Z"))
    path = made.headers["Location"] + "leave/"
    assert marlo.post(path).code == "version-needed"
    left = marlo.post(path, match=made.etag)
    assert (
        left.json["ended_reason"],
        [lesson["standing"] for lesson in left.json["lessons"][-2:]],
    ) == ("left", ["HELD", "ENDED"])
    assert marlo.post(path, match="*").code == "already-ended"
    assert marlo.post(path, match=made.etag).code == "stale"


@pytest.mark.parametrize(
    ("status", "code", "change"),
    [
        (422, "wrong-kind", {"offering": "consultation"}),
        (404, "not-found", {"term": 999}),
        (404, "not-found", {"offering": 999}),
        (404, "not-found", {"instructor": 999}),
        (422, "not-taught", {"instructor": "wren"}),
        (404, "not-found", {"student": 999}),
        (422, "invalid", {"weekday": "XX"}),
        (422, "invalid", {"wall_time": "25:00"}),
        (422, "invalid", {"wall_time": "24:00"}),
        (409, "term-dates", {"wall_time": "16:31"}),
        (409, "term-dates", {"wall_time": "03:00"}),
    ],
)
def test_what_cannot_be_taken(
    school: School, place: dict[str, int], status: int, code: str, change: dict[str, object]
) -> None:
    """Another kind, unknown things, a time that is none: the code says which; nothing is held."""
    named = {"consultation": school.consultation.pk, "wren": school.wren.pk}
    sent = {name: named.get(value, value) for name, value in change.items()}
    reply = Api(school.marlo.user).post("weekly-places/", {**place, **TUESDAY, **sent})
    assert (reply.status, reply.code) == (status, code), reply.body
    assert not Meeting.objects.exists()


def test_a_minors_surname_stays_with_their_family(school: School, place: dict[str, int]) -> None:
    """Their guardian reads the whole name of Posy's place, their instructor the first name."""
    made = Api(school.hedda).post(
        "weekly-places/", {**place, "weekday": "TU", "wall_time": "09:00"}
    )
    assert made.json["student"]["name"] == "Posy Lindqvist-Reed"
    assert b"Lindqvist" not in Api(school.ilse.user).get("weekly-places/").body
