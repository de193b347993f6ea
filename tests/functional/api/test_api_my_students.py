"""Students as instructors and admins list them over HTTP: whose, what of them, in which order."""

from datetime import timedelta

import pytest

from bookings.models import AssessmentReading, AuditRow
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api
from tests.functional.api.refusals import refused
from tests.functional.api.school import School

pytestmark = pytest.mark.sql


def tail(address: str | None) -> str | None:
    """What comes behind the version in an address that the API gave."""
    return address and address.split("/v1/")[1]


def names(api: Api, path: str = "students/") -> list[str]:
    """The names of one page, in order."""
    reply = api.get(path)
    assert reply.status == 200, reply.body
    return [row["name"] for row in reply.json["results"]]


@pytest.fixture
def taught(school: School) -> School:
    """Noor was Ilse's nine weeks ago and Wren's last week; Posy was Ilse's last week."""
    cast.taught(school.ilse, school.noor, school.consultation, NOW - timedelta(weeks=9))
    cast.taught(school.wren, school.noor, school.consultation, NOW - timedelta(weeks=1))
    cast.taught(school.ilse, school.posy, school.consultation, NOW - timedelta(weeks=1))
    return school


def test_an_instructor_lists_their_own_and_an_admin_everybody(taught: School) -> None:
    """A student of two instructors is on both lists; a minor's surname is for admins."""
    ilse, wren, dag = Api(taught.ilse.user), Api(taught.wren.user), Api(taught.dag)
    assert sorted(names(ilse)) == ["Noor Ashgrove", "Posy"]
    assert names(wren) == ["Noor Ashgrove"]
    assert sorted(names(dag)) == ["Marlo Vance", "Noor Ashgrove", "Posy Lindqvist-Reed"]
    assert names(dag, f"students/?instructor={taught.wren.pk}") == ["Noor Ashgrove"]
    refused(wren.get(f"students/?instructor={taught.ilse.pk}"), "not-found")
    refused(Api(taught.noor.user).get("students/"), "not-allowed")


def test_each_reader_is_told_of_lessons_with_the_instructor_listed(taught: School) -> None:
    """Ilse hears nothing of Wren's lesson with Noor; an admin hears of the latest with anybody."""
    path = f"students/{taught.noor.pk}/"
    seen = {
        who: Api(user).get(path).json
        for who, user in (("ilse", taught.ilse.user), ("dag", taught.dag))
    }
    assert seen["ilse"]["last_meeting_at"] == "2026-12-28T09:00:00Z"
    assert seen["dag"]["last_meeting_at"] == "2027-02-22T09:00:00Z"
    assert (seen["ilse"]["due"], seen["dag"]["due"]) == (["unseen"], [])
    assert seen["ilse"]["reasons"] == ["Not seen for 9 weeks."]


def test_filters_are_words_level_and_no_next_lesson(taught: School) -> None:
    """They narrow the list together; a value that is none is refused at its name."""
    ilse = Api(taught.ilse.user)
    cast.make_booking(
        cast.make_meeting(taught.consultation, taught.ilse, NOW + timedelta(days=2)), taught.posy
    )
    assert names(ilse, "students/?q=noor") == ["Noor Ashgrove"]
    assert names(ilse, "students/?level=2") == ["Posy"]
    assert names(ilse, "students/?without_next_meeting=true") == ["Noor Ashgrove"]
    assert names(ilse, "students/?q=posy&without_next_meeting=true") == []
    for query in ("level=11", "level=x", "due=yes", "q=" + "x" * 81, "q=%00", "sort=name"):
        assert ilse.get(f"students/?{query}").status == 422, query
    assert names(ilse, "students/?q=%F0%9F%8E%B5 ‏נור") == []


def test_a_search_tells_an_instructor_no_surname_of_a_minor(taught: School) -> None:
    """Neither do guardians' names, nor addresses; an admin searches all of them."""
    ilse, dag = Api(taught.ilse.user), Api(taught.dag)
    for words in ("Lindqvist", "reed", "Hedda", "rowanmere.example", "osy"):
        assert names(ilse, f"students/?q={words}") == [], words
    assert names(ilse, "students/?q=pos") == ["Posy"]
    assert names(dag, "students/?q=Hedda") == ["Posy Lindqvist-Reed"]


def test_an_obstacle_is_read_by_those_who_may_read_the_note(taught: School) -> None:
    """Its author always; another instructor only while a booking of theirs carries the note, which
    is logged; an admin learns that there is one.
    """
    note = taught.released(
        taught.noor,
        taught.ilse,
        obstacle="The fourth finger folds: canary-77",
        follow_up_weeks=2,
        follow_up_on=NOW.date(),
    )
    path = f"students/{taught.noor.pk}/"
    ilse, wren, dag = Api(taught.ilse.user), Api(taught.wren.user), Api(taught.dag)
    assert "canary-77" in ilse.get(path).json["obstacle"]
    hidden = wren.get(path)
    assert (hidden.json["obstacle"], hidden.json["obstacle_open"]) == ("", False)
    assert (hidden.json["follow_up_on"], hidden.json["due"]) == (None, [])
    assert hidden.json["last_note"]["author"]["name"] == "Ilse Quarrow"
    assert b"canary-77" not in hidden.body
    told = dag.get(path)
    assert (told.json["obstacle"], told.json["obstacle_open"]) == ("", True)
    assert told.json["follow_up_on"] == "2027-03-01"
    assert not AssessmentReading.objects.exists()
    with_wren = taught.noor.bookings.get(meeting__instructor=taught.wren)
    with_wren.assessment = note
    with_wren.save()
    assert "canary-77" in wren.get(path).json["obstacle"]
    reading = AssessmentReading.objects.get()
    assert (reading.reader, reading.relation) == (taught.wren.user, "instructor")


def test_due_ones_come_in_order_page_by_page(school: School) -> None:
    """By follow-up date, then time unseen, then obstacle, then name; each once over the pages."""
    weeks = {"Ada": 7, "Bea": 8, "Cy": 7, "Di": 1, "Eve": 1, "Fay": 3}
    students = {name: cast.make_student(name) for name in weeks}
    for hour, (name, ago) in enumerate(weeks.items()):
        at = NOW - timedelta(weeks=ago, hours=hour)
        cast.taught(school.ilse, students[name], school.consultation, at)
    school.released(students["Di"], school.ilse, obstacle="The thumb")
    on = NOW.date() + timedelta(days=14)
    asked = {"follow_up_weeks": 4, "follow_up_on": on}
    school.released(students["Fay"], school.ilse, **asked)
    ilse, rows = Api(school.ilse.user), []
    address = "students/?due=true&page_size=2"
    while address:
        reply = ilse.get(address)
        rows += [(row["name"], row["due"][0]) for row in reply.json["results"]]
        last, address = tail(reply.json["previous"]), tail(reply.json["next"])
    assert rows == [
        ("Fay", "follow-up"),
        ("Bea", "unseen"),
        ("Ada", "unseen"),
        ("Cy", "unseen"),
        ("Di", "obstacle"),
    ]
    assert [row["name"] for row in ilse.get(last).json["results"]] == ["Ada", "Cy"]


def test_who_has_left_or_was_seen_long_ago_is_not_listed(taught: School) -> None:
    """400 days after the last lesson an instructor's list ends, unless the student is theirs."""
    ilse = Api(taught.ilse.user)
    old = cast.taught(
        taught.ilse, taught.marlo, taught.consultation, NOW - timedelta(days=400, minutes=26)
    )
    assert "Marlo Vance" not in names(ilse)
    taught.marlo.regular_instructor = taught.ilse
    taught.marlo.save()
    assert "Marlo Vance" in names(ilse)
    taught.marlo.is_active = False
    taught.marlo.save()
    assert "Marlo Vance" not in names(ilse) + names(Api(taught.dag))
    assert ilse.get(f"students/{taught.marlo.pk}/").status == 404
    assert old.student == taught.marlo


def test_an_admin_names_the_regular_instructor(taught: School) -> None:
    """With the ETag read; one who does not teach here is not found, an old tag is stale."""
    dag, path = Api(taught.dag), f"students/{taught.noor.pk}/"
    tag = dag.etag(path)
    named = dag.patch(path, {"regular_instructor": taught.wren.pk}, match=tag)
    assert named.json["regular_instructor"] == {"id": taught.wren.pk, "name": "Wren Halloway"}
    assert named.etag == dag.get(path).version
    refused(dag.patch(path, {"regular_instructor": None}, match=tag), "stale")
    taught.ilse.is_active = False
    taught.ilse.save()
    gone = dag.patch(path, {"regular_instructor": taught.ilse.pk}, match="*")
    assert refused(gone, "not-found")["errors"][0]["pointer"] == "#/regular_instructor"
    for wrong in ("x", 0, True, [1]):
        assert dag.patch(path, {"regular_instructor": wrong}, match="*").status == 422
    assert dag.patch(path, {"regular_instructor": None}, match="*").status == 200
    assert AuditRow.objects.filter(thing="student").count() == 2
