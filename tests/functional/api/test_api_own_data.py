"""A person's own data over the API: exported, asked for whole, and erased."""

import pytest

from bookings.models import AuditReason
from tests.functional.api.client import Api
from tests.functional.api.school import FRIDAY, School
from tests.school.privacy import read_zip

pytestmark = pytest.mark.sql


def test_an_export_is_the_familys_own_and_an_admins_with_a_reason(school: School) -> None:
    """Source: TRADE.md 8 scenario 12: no private remark is in it, whoever reads it."""
    school.released(school.noor, school.ilse, remarks="canary-5e1d")
    path = f"students/{school.noor.pk}/export/"
    own = Api(school.noor.user).get(path)
    told, _ = read_zip(own.body)
    assert told["data"]["account"][0]["email"] == school.noor.user.email
    dag = Api(school.dag)
    assert (dag.get(path).status, dag.post(path, {"reason": " "}).status) == (422, 422)
    seen = dag.post(path, {"reason": "A question"})
    assert AuditReason.objects.get().text == "A question"
    for answer in (own, seen):
        assert "canary-5e1d" not in str(read_zip(answer.body))


def test_an_access_export_needs_an_admins_approval(school: School) -> None:
    """It goes to whoever asked for it."""
    school.released(school.noor, school.ilse, remarks="canary-5e1d")
    noor, dag, path = Api(school.noor.user), Api(school.dag), f"students/{school.noor.pk}/"
    asked = noor.post(f"{path}privacy/", {"wanted": "access"})
    assert (asked.status, asked.json["access_export"]["approved_at"]) == (201, None)
    assert noor.get(f"{path}access-export/").code == "not-yet"
    assert noor.post(f"{path}privacy/approve/", {"wanted": "access"}).status == 403
    assert dag.post(f"{path}privacy/approve/", {"wanted": "access"}).status == 200
    assert "canary-5e1d" in str(read_zip(noor.get(f"{path}access-export/").body))
    assert dag.get(f"{path}access-export/").status == 404


def test_an_erasure_names_what_ends_and_can_be_taken_back(school: School) -> None:
    """Asked for with `end_bookings`; the answer says when the data goes."""
    school.booked(school.noor.user, starts_at=FRIDAY.isoformat())
    noor, path = Api(school.noor.user), f"students/{school.noor.pk}/privacy/"
    refused = noor.post(path, {"wanted": "erasure"})
    assert refused.code == "has-bookings"
    assert len(refused.json["bookings"]) == 1
    asked = noor.post(path, {"wanted": "erasure", "end_bookings": True})
    assert asked.status == 201
    erasure = noor.get(path).json["erasure"]
    assert erasure["approved_at"] is None
    assert erasure["erased_after"] > erasure["asked_at"]
    back = noor.post(f"{path}take-back/", {"wanted": "erasure"})
    assert (back.status, back.json["erasure"], back.json["is_erased"]) == (200, None, False)
