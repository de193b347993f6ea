"""Players are chosen over the API: applied, chosen, closed."""

from datetime import timedelta

from tests.functional.api.client import Api
from tests.functional.api.school import FRIDAY, School


def test_families_apply_and_an_admin_chooses(school: School) -> None:
    """From the meeting made to the choice closed, each step by whoever may take it."""
    dag, noor, marlo = Api(school.dag), Api(school.noor.user), Api(school.marlo.user)
    meeting = school.class_on(starts_at=FRIDAY + timedelta(days=5), players_are_chosen=True)
    path = f"meetings/{meeting.pk}/"
    assert dag.get(path).json["players_are_chosen"] is True
    assert noor.post("bookings/", {"meeting": meeting.pk}).code == "players-chosen"
    applied = noor.post(path + "waiting-list/", {"piece": "Willow air", "recording": "At 7 min"})
    assert (applied.json["piece"], applied.json["recording"]) == ("Willow air", "At 7 min")
    marlo.post(path + "waiting-list/", {})
    ilse = Api(school.ilse.user)
    assert ilse.post(path + "choose/", {"student": school.noor.pk}, match="*").status == 403
    chosen = dag.post(path + "choose/", {"student": school.marlo.pk}, match=dag.etag(path))
    assert (chosen.status, chosen.json["standing"]) == (201, "HELD")
    closed = dag.post(path + "close-choice/", match=dag.etag(path))
    assert closed.json["choice_closed_at"] is not None
    assert noor.get("waiting-places/").json["results"] == []
    assert noor.post(path + "waiting-list/", {}).code == "players-chosen"
