"""Guardianships over HTTP: an admin lists them, bars a guardian and lifts the bar again."""

import pytest

from accounts.models import Guardianship
from bookings.models import AuditRow, KeptAnswer
from tests.cast import NOW, make_booking, make_meeting
from tests.functional.api.client import Api
from tests.functional.api.refusals import refused
from tests.functional.api.school import FRIDAY, School
from tests.school.barring import second_guardian

WHY = "The court has decided so; see the file."


@pytest.fixture
def row(school: School) -> Guardianship:
    """Hedda's guardianship of Posy, for whom Tarn answers too."""
    second_guardian(school.posy)
    return school.hedda.guardianships.get()


def test_an_admin_bars_reads_the_bar_and_lifts_it(school: School, row: Guardianship) -> None:
    """Each answer bears the tag for the next; the reason goes with the bar."""
    dag, path = Api(school.dag), f"guardianships/{row.pk}/"
    assert dag.get(path).json["bar"] is None
    barred = dag.post(f"{path}bar/", {"reason": WHY}, match=dag.etag(path))
    assert barred.status == 200
    assert barred.json["bar"] == {
        "since": NOW.isoformat().replace("+00:00", "Z"),
        "by": {"id": school.dag.pk, "name": school.dag.name},
        "reason": WHY,
    }
    assert Api(school.hedda).get("me/").json["students"] == []
    lifted = dag.post(f"{path}lift-bar/", match=barred.etag)
    assert (lifted.status, lifted.json["bar"]) == (200, None)
    assert lifted.etag == dag.get(path).version
    assert [one["name"] for one in Api(school.hedda).get("me/").json["students"]] != []


def test_guardianships_are_listed_by_student_and_by_bar(school: School, row: Guardianship) -> None:
    """All of them, those of one student, and the barred ones."""
    dag = Api(school.dag)
    dag.post(f"guardianships/{row.pk}/bar/", {"reason": WHY}, match="*")
    everybody = dag.get(f"guardianships/?student={school.posy.pk}").json["results"]
    assert [one["guardian"]["name"] for one in everybody] == [school.hedda.name, "Tarn Reed"]
    assert everybody[0]["student"]["name"] == "Posy Lindqvist-Reed"
    (barred,) = dag.get("guardianships/?barred=true").json["results"]
    assert (barred["id"], barred["bar"]["reason"]) == (row.pk, WHY)
    refused(Api(school.hedda).get("guardianships/"), "not-allowed")


def test_a_retry_is_told_that_it_is_done_and_the_reason_is_stored_once(
    school: School, row: Guardianship
) -> None:
    """The reason stands in the guardianship alone: in no kept answer and no audit row."""
    dag, path = Api(school.dag), f"guardianships/{row.pk}/bar/"
    assert dag.post(path, {"reason": WHY}, match="*", key="one").json["bar"]["reason"] == WHY
    again = dag.post(path, {"reason": WHY}, match="*", key="one")
    assert (again.code, again.json["location"]) == ("already-done", f"/api/v1/{path[:-4]}")
    assert not KeptAnswer.objects.filter(body__contains=WHY).exists()
    assert not AuditRow.objects.filter(why__isnull=False).exists()


def test_what_would_end_is_listed_first(school: School) -> None:
    """Tarn has not consented: the lesson ends only once the admin says so."""
    second_guardian(school.posy, consent=False)
    lesson = make_booking(make_meeting(school.consultation, school.ilse, FRIDAY), school.posy)
    dag, path = Api(school.dag), f"guardianships/{school.hedda.guardianships.get().pk}/bar/"
    refusal = dag.post(path, {"reason": WHY}, match="*")
    refused(refusal, "has-bookings")
    assert [one["id"] for one in refusal.json["bookings"]] == [lesson.pk]
    assert dag.post(path, {"reason": WHY, "end_bookings": True}, match="*").status == 200
    lesson.refresh_from_db()
    assert lesson.ended_why == "called-off"


def test_the_last_guardian_is_replaced_first(school: School) -> None:
    """Nothing changes, and the sentence says what to do."""
    path = f"guardianships/{school.hedda.guardianships.get().pk}/bar/"
    refused(Api(school.dag).post(path, {"reason": WHY}, match="*"), "last-guardian")


def test_two_admins_do_not_overwrite_each_other(school: School, row: Guardianship) -> None:
    """The second has read a guardian who is not barred."""
    dag, path = Api(school.dag), f"guardianships/{row.pk}/"
    read = dag.etag(path)
    assert dag.post(f"{path}bar/", {"reason": WHY}, match=read).status == 200
    refused(dag.post(f"{path}bar/", {"reason": "Another."}, match=read), "stale")
    row.refresh_from_db()
    assert row.barred_why == WHY
