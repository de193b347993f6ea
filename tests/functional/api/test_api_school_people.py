"""People as the school has them: taken in, found, changed, gone and back again."""

from datetime import UTC, datetime, timedelta

import pytest

from accounts.models import Student, Welcome
from bookings.models import AuditRow, OutboxMessage, Teaches
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api, snapshot
from tests.functional.api.matrix_school_people import student_body
from tests.functional.api.school import FRIDAY, School
from tests.functional.api.world import make_world

FERN = {"name": "Fern Ashdown", "email": "fern@ashdown.example"}


@pytest.fixture
def dag(school: School) -> Api:
    return Api(school.dag)


def found(api: Api, path: str) -> list[str]:
    """The names in a list."""
    return [row["name"] for row in api.get(path).json["results"]]


def test_a_student_is_taken_in_with_their_guardians(school: School, dag: Api) -> None:
    """One call adds the student and invites each guardian, whose invitation is listed."""
    guardians = [FERN, {"name": "Bay Ashdown", "email": "bay@ashdown.example"}]
    body = {**student_body(make_world(school)), "guardians": guardians}
    made = dag.post("students/", body, key="one")
    assert made.status == 201
    shown = dag.get(f"students/{made.json['id']}/")
    assert (shown.json, shown.version) == (made.json, made.etag)
    assert (made.json["minor"], made.json["adult_on"]) == (True, "2035-05-01")
    assert made.json["regular_instructor"]["id"] == school.ilse.pk
    invited = dag.get(f"invitations/?student={made.json['id']}&role=guardian").json["results"]
    assert {row["email"] for row in invited} == {one["email"] for one in guardians}
    assert OutboxMessage.objects.filter(kind="welcome").count() == 2
    assert dag.post("students/", body, key="one").body == made.body
    assert Student.objects.filter(own_name="Linnet Ashdown").count() == 1


def test_a_student_who_cannot_be_invited_is_not_taken_in(school: School, dag: Api) -> None:
    """All of it or nothing: somebody else's address would give them a child who is not theirs.

    Source: OWASP ASVS 5.0.0, V2.3.3.
    """
    guardians = [FERN, {"name": "Bay Ashdown", "email": school.hedda.email}]
    body = {**student_body(make_world(school)), "guardians": guardians}
    before = snapshot()
    refused = dag.post("students/", body)
    assert (refused.status, refused.code) == (422, "invalid")
    assert [error["pointer"] for error in refused.json["errors"]] == ["#/guardians/1"]
    assert snapshot() == before


def test_an_adult_is_taken_in_with_an_account_to_come(school: School, dag: Api) -> None:
    """The invitation goes to the address in small letters; without a unit it is the first."""
    body = {
        "name": "Robin Marsh",
        "level": 4,
        "time_zone": "Asia/Kathmandu",
        "adult_on": None,
        "email": "Robin@marsh.example",
    }
    made = dag.post("students/", body)
    assert (made.status, made.json["minor"], made.json["unit"]) == (201, False, 1)
    assert Welcome.objects.get(student=made.json["id"]).email == "robin@marsh.example"


def test_an_admin_changes_the_record_that_they_read(school: School, dag: Api) -> None:
    """Two things in one change, or neither; what changed meanwhile is refused."""
    path = f"students/{school.posy.pk}/"
    read = dag.get(path)
    change = {"level": 5, "unit": 3, "regular_instructor": school.wren.pk}
    changed = dag.patch(path, change, match=read.etag)
    assert (changed.status, changed.json["level"], changed.json["unit"]) == (200, 5, 3)
    assert changed.json["regular_instructor"]["id"] == school.wren.pk
    assert dag.patch(path, {"level": 6}, match=read.etag).code == "stale"
    assert dag.patch(path, {"name": "Posy Reed"}, match="*").json["name"] == "Posy Reed"
    zone = dag.patch(path, {"time_zone": "Asia/Kathmandu"}, match="*")
    assert zone.json["time_zone"] == "Asia/Kathmandu"
    assert AuditRow.objects.filter(verb="changed", actor=school.dag).count() == 4


def test_name_and_clock_of_an_account_are_its_own(school: School, dag: Api) -> None:
    """The school notes them only for a student without an account."""
    path = f"students/{school.noor.pk}/"
    refused = dag.patch(path, {"time_zone": "Asia/Kathmandu"}, match="*")
    assert (refused.status, refused.code) == (422, "invalid")


def test_a_student_leaves_and_comes_back(school: School, dag: Api) -> None:
    """Those who have left are found where they are asked for, and nowhere else."""
    assert dag.post(f"students/{school.marlo.pk}/leave/", {}).status == 200
    assert "Marlo Vance" not in found(dag, "students/")
    assert found(dag, "students/?active=false") == ["Marlo Vance"]
    assert dag.get(f"students/{school.marlo.pk}/").json["active"] is False
    back = dag.post(f"students/{school.marlo.pk}/return/")
    assert (back.status, back.json["active"]) == (200, True)
    assert found(dag, "students/?active=false") == []


def test_an_instructor_does_not_list_those_who_have_left(school: School) -> None:
    """They are for admins."""
    ilse = Api(school.ilse.user)
    assert ilse.get("students/?active=true").status == 200
    assert ilse.get("students/?active=false").status == 403


def test_students_are_found_by_name_and_by_address(school: School, dag: Api) -> None:
    """Each word has to be found: in a name, an address, or those of a guardian. An instructor
    finds by the names that they know, and by no address.
    """
    assert found(dag, "students/?q=noor") == ["Noor Ashgrove"]
    assert found(dag, f"students/?q={school.noor.user.email}") == ["Noor Ashgrove"]
    assert found(dag, "students/?q=posy+hedda") == [school.posy.full_name]
    assert found(dag, "students/?q=noor+hedda") == []
    school.noor.regular_instructor = school.ilse
    school.noor.save(update_fields=["regular_instructor"])
    ilse = Api(school.ilse.user)
    assert found(ilse, "students/?q=noor") == ["Noor Ashgrove"]
    assert found(ilse, f"students/?q={school.noor.user.email}") == []


@pytest.mark.parametrize(
    ("now", "minors"),
    [
        (datetime(2027, 6, 9, 13, 59, tzinfo=UTC), {"Ash of Sydney", "Elm of Dublin"}),
        (datetime(2027, 6, 9, 14, 1, tzinfo=UTC), {"Elm of Dublin"}),
        (datetime(2027, 6, 9, 23, 1, tzinfo=UTC), set()),
    ],
)
def test_a_minor_comes_of_age_on_their_own_clock(
    school: School, dag: Api, clock_stands_still, now: datetime, minors: set[str]
) -> None:
    """10 June begins in Sydney at 14:00 UTC the day before, in Dublin at 23:00 UTC. Source: common
    practice; the same rule as for lessons of minors.
    """
    for name, zone in (("Ash of Sydney", "Australia/Sydney"), ("Elm of Dublin", "Europe/Dublin")):
        Student.objects.create(own_name=name, level=3, own_time_zone=zone, adult_on="2027-06-10")
    clock_stands_still.move_to(now)
    both = {"Ash of Sydney", "Elm of Dublin"}
    assert set(found(dag, "students/?minor=true")) & both == minors
    assert set(found(dag, "students/?minor=false")) & both == both - minors


def test_students_without_a_review_due_are_the_others(school: School, dag: Api) -> None:
    """`due=true` and `due=false` share nobody and leave nobody out."""
    cast.make_meeting(school.consultation, school.ilse, FRIDAY - timedelta(days=60))
    due, others = (set(found(dag, f"students/?due={said}")) for said in ("true", "false"))
    assert due | others == set(found(dag, "students/"))
    assert not due & others


def test_an_account_is_found_closed_and_opened_again(school: School, dag: Api) -> None:
    """By name, by address, by role; a closed one where it is asked for."""
    assert "Hedda" in found(dag, "people/?role=guardian")[0]
    assert {"Ilse", "Wren"} == {name.split()[0] for name in found(dag, "people/?role=instructor")}
    assert found(dag, f"people/?q={school.marlo.user.email}") == ["Marlo Vance"]
    path = f"people/{school.marlo.user_id}/"
    read = dag.get(path)
    assert (read.json["roles"], read.json["student"]["id"]) == (["student"], school.marlo.pk)
    renamed = dag.patch(path, {"name": "Marlo Reed"}, match=read.etag)
    assert renamed.json["name"] == "Marlo Reed"
    assert dag.post(path + "close/", {}, match=read.etag).code == "stale"
    closed = dag.post(path + "close/", {}, match=renamed.etag)
    assert (closed.status, closed.json["active"], closed.json["roles"]) == (200, False, [])
    assert found(dag, "people/?active=false") == ["Marlo Reed"]
    opened = dag.post(path + "reopen/", match=closed.etag)
    assert (opened.json["active"], opened.json["roles"]) == (True, ["student"])


def test_the_only_admin_does_not_close_their_own_account(school: School, dag: Api) -> None:
    """Somebody has to run the school."""
    refused = dag.post(f"people/{school.dag.pk}/close/", {}, match="*")
    assert (refused.status, refused.code) == (409, "last-admin")


def test_a_barred_guardian_is_listed_as_none(school: School, dag: Api) -> None:
    """Neither the list of guardians nor their own account calls them one."""
    world = make_world(school)
    assert world.barred.name not in found(dag, "people/?role=guardian")
    assert dag.get(f"people/{world.barred.pk}/").json["roles"] == []


def test_an_instructor_is_dismissed_and_teaches_again(school: School, dag: Api) -> None:
    """Whoever teaches here no more is found where they are asked for."""
    assert dag.post(f"instructors/{school.wren.pk}/dismiss/", {}).status == 200
    assert found(dag, "instructors/") == [school.ilse.user.name]
    assert found(dag, "instructors/?active=false") == [school.wren.user.name]
    assert dag.post(f"instructors/{school.wren.pk}/teach-again/").json["active"] is True
    assert dag.get(f"instructors/{school.wren.pk}/").json["active"] is True


def test_a_guardian_is_removed_where_another_answers(school: School, dag: Api) -> None:
    """A barred one stays, so that nobody forgets the bar."""
    world = make_world(school)
    path = f"guardianships/{world.second.pk}/"
    assert dag.delete(path, {}, match=dag.etag(path)).status == 204
    assert dag.get(path).status == 404
    barred = f"guardianships/{world.barred.guardianships.get().pk}/"
    assert dag.delete(barred, {}, match="*").code == "not-allowed"


def test_who_teaches_what_is_said_by_an_admin(school: School, dag: Api) -> None:
    """To which levels; it is told how many bookings lie outside, which stay."""
    path = f"offerings/{school.consultation.pk}/instructors/"
    cast.make_booking(cast.make_meeting(school.consultation, school.ilse, FRIDAY), school.noor)
    levels = {"lowest_level": 9, "highest_level": 10}
    read = dag.get(path)
    put = dag.put(path, {"instructor": school.ilse.pk, **levels}, match=read.etag)
    assert (put.status, put.json) == (200, {"bookings_outside": 1})
    assert dag.put(path, {"instructor": school.wren.pk, **levels}, match=read.etag).status == 412
    at_9 = dag.get(path + "?level=9").json["results"]
    assert [row["lowest_level"] for row in at_9] == [9, 1]
    ended = dag.delete(path, {"instructor": school.ilse.pk}, match=put.etag)
    assert (ended.status, ended.json) == (200, {"bookings_outside": 1})
    assert not Teaches.objects.filter(instructor=school.ilse, offering=school.consultation)
    upside_down = {"instructor": school.wren.pk, "lowest_level": 6, "highest_level": 2}
    assert dag.put(path, upside_down, match="*").status == 422


def test_closed_offerings_are_listed_where_they_are_asked_for(school: School, dag: Api) -> None:
    """A list shows what can be booked, unless it is asked for the others."""
    path = f"offerings/{school.masterclass.pk}/"
    assert dag.patch(path, {"is_open": False}, match=dag.etag(path)).status == 200
    assert found(dag, "offerings/?kind=masterclass") == []
    assert found(dag, "offerings/?is_open=false") == ["Masterclass"]


def test_a_list_of_5000_students_is_read_in_few_statements(
    school: School, dag: Api, django_assert_max_num_queries
) -> None:
    """As many statements for a page as with three students, whatever is searched for."""
    zone = "Europe/Dublin"
    Student.objects.bulk_create(
        Student(own_name=f"Student {number:04}", level=1 + number % 10, own_time_zone=zone)
        for number in range(5_000)
    )
    for query in ("", "?q=student+42", "?minor=false&level=3", "?due=true", "?active=false"):
        with django_assert_max_num_queries(12):
            reply = dag.get(f"students/{query}")
        assert reply.status == 200
    with django_assert_max_num_queries(12):
        assert len(dag.get("students/?page_size=200").json["results"]) == 200
    assert NOW
