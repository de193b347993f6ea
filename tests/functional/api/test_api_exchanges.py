"""Exchanges of weekly places over the API: an order, a question, an answer."""

import pytest

from bookings.models import AuditRow
from tests.functional.api.client import Api
from tests.school.exchanges import ASKED_AT, ExchangingSchool, open_times

pytestmark = pytest.mark.django_db


@pytest.fixture
def school(monkeypatch):
    """The clock of every call and of the solver stands at ASKED_AT."""
    monkeypatch.setattr("bookings.clock.now", lambda: ASKED_AT)
    return ExchangingSchool()


def test_an_order_names_offered_times_and_never_a_family(school):
    """A minor's name, a guardian's and an adult's are nowhere in what Noor reads."""
    noor = Api(school.noor.user)
    path = f"weekly-places/{school.noors.pk}/wishes/"
    read = noor.get(path)
    assert [(row["id"], row["weekday"], row["wall_time"]) for row in read.json["on_offer"]] == [
        (school.marlos.pk, "WE", "17:00"),
        (school.posys.pk, "TH", "17:30"),
    ]
    for name in (b"Marlo", b"Vance", b"Posy", b"Hedda", b"Lindqvist"):
        assert name not in read.body
    wanted = {"weekly_places": [school.posys.pk, school.marlos.pk]}
    said = noor.put(path, wanted, headers={"If-Match": read.headers["ETag"]})
    assert said.json["weekly_places"] == wanted["weekly_places"]
    again = noor.put(path, {"weekly_places": []}, headers={"If-Match": read.headers["ETag"]})
    assert (again.status, again.code) == (412, "stale")
    assert AuditRow.objects.filter(verb="wished for times").count() == 1


def test_a_time_that_is_not_offered_is_refused_by_its_field(school):
    """One's own place, and one that is not there."""
    noor = Api(school.noor.user)
    path = f"weekly-places/{school.noors.pk}/wishes/"
    for place in (school.noors.pk, 10**9):
        refused = noor.put(path, {"weekly_places": [place]}, headers={"If-Match": "*"})
        assert (refused.status, refused.code) == (422, "invalid")


def test_three_yeses_over_the_api_exchange_three_places(school):
    """Each family sees its own question alone; an admin all three."""
    school.asked()
    before = open_times(school.term)
    readers = (school.noor.user, school.marlo.user, school.hedda)
    for reader in readers:
        api = Api(reader)
        (own,) = api.get("exchanges/").json["results"]
        assert own["ended_reason"] == ""
        said = api.post(f"exchanges/{own['id']}/accept/", headers={"If-Match": "*"})
        assert said.status == 200
    assert said.json["ended_reason"] == "placed"
    assert open_times(school.term) != before
    assert len(Api(school.dag).get("exchanges/").json["results"]) == 3
    assert Api(school.ilse.user).get("exchanges/").json["results"] == []


def test_an_answer_after_the_end_is_refused(school):
    """One no has ended it for all."""
    school.asked()
    school.say_no(school.marlo)
    move = school.move_of(school.noor)
    late = Api(school.noor.user).post(f"exchanges/{move.pk}/accept/", headers={"If-Match": "*"})
    assert (late.status, late.code) == (409, "offer-ended")
