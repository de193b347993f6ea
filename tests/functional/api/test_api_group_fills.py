"""A group meeting fills: whoever comes too late waits as a player and may listen meanwhile."""

from tests import cast
from tests.functional.api.client import Api
from tests.functional.api.refusals import refused
from tests.functional.api.school import School
from tests.functional.pages.school import as_user, text_of


def test_the_fifth_player_waits_first_and_may_listen_without_losing_their_rank(
    school: School,
) -> None:
    """Source: TRADE.md 8 (14): four player and eight listener places; a fifth player applies."""
    meeting = school.class_on(places=4, listener_places=8)
    players = ("Ida Quince", "Niamh Corrib", "Oona Brack", "Wilf Marsh")
    for name in players:
        api = Api(cast.user_of(cast.make_student(name, "Europe/Dublin")))
        assert api.post("bookings/", {"meeting": meeting.pk}).status == 201
    noor, place = Api(school.noor.user), {"meeting": meeting.pk}
    refused(noor.post("bookings/", place), "no-place")
    assert noor.post(f"meetings/{meeting.pk}/waiting-list/", {}).json["rank"] == 1
    page = text_of(as_user(cast.user_of(school.noor)).get(f"/meetings/{meeting.pk}/"))
    assert "Every player place is taken. Noor is on the players’ waiting list, first." in page
    assert "Book a listener place" in page
    listening = noor.post("bookings/", {**place, "as": "listener"})
    assert (listening.status, listening.json["as"]) == (201, "listener")
    assert Api(school.marlo.user).post(f"meetings/{meeting.pk}/waiting-list/", {}).json["rank"] == 2
    (waiting,) = noor.get("waiting-places/").json["results"]
    assert (waiting["rank"], waiting["as"]) == (1, "player")
    roster = Api(school.dag).get(f"meetings/{meeting.pk}/").json
    assert (roster["taken"], roster["listeners_taken"]) == (4, 1)
