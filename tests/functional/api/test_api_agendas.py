"""The order of players over HTTP."""

from datetime import timedelta

import pytest

from bookings.domain.timeline import rfc3339
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Booking, Intake, Meeting, OutboxMessage
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import Api
from tests.functional.api.refusals import refused
from tests.functional.api.school import FRIDAY, School


@pytest.fixture
def meeting(school: School) -> Meeting:
    """A masterclass of Ilse's with a place to listen."""
    return cast.make_meeting(
        school.masterclass,
        school.ilse,
        FRIDAY,
        places=6,
        listener_places=2,
        title="Étude and encore",
    )


@pytest.fixture
def players(meeting: Meeting) -> list[Booking]:
    """Levels 2, 5, 3, 7, booked in this order; all grown up."""
    names = ("Oona Brack", "Asha Merrow", "Tamsin Reed", "Wilf Marsh")
    return [
        cast.make_booking(
            meeting,
            cast.make_student(name, "Europe/Dublin", level=level),
            booked_at=NOW + timedelta(minutes=level),
        )
        for name, level in zip(names, (2, 5, 3, 7), strict=True)
    ]


def test_the_order_of_four_players(
    school: School, meeting: Meeting, players: list[Booking]
) -> None:
    """Source: TRADE.md 8 (16): levels 2, 5, 3, 7 at 15 minutes play as 2, 3, 5, 7; the end is start
    + 60 + 10; someone who must leave early may be first, and it is shown why.
    """
    dag, address = Api(school.dag), f"meetings/{meeting.pk}/agenda/"
    before = dag.get(address)
    assert (before.json["turns"], before.json["ends_at"]) == ([], None)
    published = dag.put(address, {"players": []}, match=before.headers["ETag"])
    assert published.status == 200, published.body
    turns = published.json["turns"]
    assert [turn["name"] for turn in turns] == [
        "Oona Brack",
        "Tamsin Reed",
        "Asha Merrow",
        "Wilf Marsh",
    ]
    assert [turn["early"] for turn in turns] == ["", "", "", ""]
    assert turns[1]["starts_at"] == rfc3339(FRIDAY + timedelta(minutes=15))
    assert published.json["ends_at"] == rfc3339(FRIDAY + timedelta(minutes=60 + 10))
    assert OutboxMessage.objects.filter(title__startswith="You play ").count() == 4

    wilf = Api(cast.user_of(players[3].student))
    leaves_by = rfc3339(FRIDAY + timedelta(minutes=20))
    own = wilf.put(f"bookings/{players[3].pk}/leaves-by/", {"leaves_by": leaves_by}, match="*")
    assert (own.status, own.json["leaves_by"]) == (200, leaves_by)
    assert wilf.get(address).json["is_old"] is True

    again = dag.put(address, {"players": []}, match="*").json
    assert (again["is_old"], again["turns"][0]["name"]) == (False, "Wilf Marsh")
    assert again["turns"][0]["early"] == (
        "This turn is early because the player has to leave early."
    )


def test_the_order_is_for_the_roster_alone(
    school: School, meeting: Meeting, players: list[Booking]
) -> None:
    """A listener reads it, a family without a place does not; nobody reads another's booking id."""
    address = f"meetings/{meeting.pk}/agenda/"
    Api(school.dag).put(address, {"players": []}, match="*")
    refused(Api(school.noor.user).get(address), "not-found")
    cast.make_booking(meeting, school.noor, place_kind=PlaceKind.LISTENER)
    listener = Api(school.noor.user).get(address).json
    assert {turn["booking"] for turn in listener["turns"]} == {None}
    player = Api(cast.user_of(players[0].student)).get(address).json
    assert [turn["booking"] for turn in player["turns"]] == [players[0].pk, None, None, None]
    teacher = Api(school.ilse.user).get(address).json
    assert None not in {turn["booking"] for turn in teacher["turns"]}


def test_a_minor_on_the_roster_makes_first_names_of_all(
    school: School, meeting: Meeting, players: list[Booking]
) -> None:
    """Posy listens: nobody's surname is in the order, whoever reads it."""
    cast.make_booking(meeting, school.posy, place_kind=PlaceKind.LISTENER)
    Api(school.dag).put(f"meetings/{meeting.pk}/agenda/", {"players": []}, match="*")
    for reader in (school.dag, school.ilse.user, school.hedda):
        turns = Api(reader).get(f"meetings/{meeting.pk}/agenda/").json["turns"]
        assert [turn["name"] for turn in turns] == ["Oona", "Tamsin", "Asha", "Wilf"]


def test_an_admin_says_minutes_and_who_is_no_player_is_pointed_at(
    school: School, meeting: Meeting, players: list[Booking]
) -> None:
    """Another meeting's booking is as none; naming somebody twice is refused."""
    dag, address = Api(school.dag), f"meetings/{meeting.pk}/agenda/"
    long = {"booking": players[0].pk, "minutes": 20, "leaves_by": None}
    published = dag.put(address, {"players": [long]}, match="*").json
    assert [turn["minutes"] for turn in published["turns"]] == [20, 15, 15, 15]
    stranger = dag.put(address, {"players": [{**long, "booking": 999_999}]}, match="*")
    refused(stranger, "not-found")
    assert stranger.json["errors"][0]["pointer"] == "#/players/0/booking"
    refused(dag.put(address, {"players": [long, long]}, match="*"), "invalid")


def test_who_cannot_be_kept_is_named(
    school: School, meeting: Meeting, players: list[Booking]
) -> None:
    """Two players have to be done after the first turn."""
    said = [
        {
            "booking": player.pk,
            "minutes": 15,
            "leaves_by": rfc3339(FRIDAY + timedelta(minutes=15)),
        }
        for player in players[:2]
    ]
    reply = Api(school.dag).put(f"meetings/{meeting.pk}/agenda/", {"players": said}, match="*")
    refused(reply, "no-order")
    assert "Cannot leave in time: Asha Merrow." in reply.json["detail"]


def test_the_room_reads_the_pieces_and_a_family_its_own_recordings(
    school: School, meeting: Meeting, players: list[Booking]
) -> None:
    """Whoever runs it reads all recordings."""
    for player in players[:2]:
        Intake.objects.create(
            booking=player, pieces="Study in G", recordings=["On Sunday"], written_at=NOW
        )
    Api(school.dag).put(f"meetings/{meeting.pk}/agenda/", {"players": []}, match="*")
    seen = {}
    for reader in (school.ilse.user, cast.user_of(players[0].student)):
        turns = Api(reader).get(f"meetings/{meeting.pk}/agenda/").json["turns"]
        assert [turn["pieces"] for turn in turns] == ["Study in G", "", "Study in G", ""]
        seen[reader.name] = [turn["recordings"] for turn in turns]
    assert seen == {
        "Ilse Quarrow": [["On Sunday"], [], ["On Sunday"], []],
        "Oona Brack": [["On Sunday"], [], [], []],
    }


def test_an_order_longer_than_the_meeting_makes_it_longer(
    school: School, meeting: Meeting, players: list[Booking]
) -> None:
    """Source: TRADE.md 8 (16): start + the turns + 10. Ilse's next meeting is named otherwise."""
    dag, address = Api(school.dag), f"meetings/{meeting.pk}/agenda/"
    school.ilse.load_allowances.create(
        starts_at=meeting.starts_at, allowed_by=school.ilse.user, allowed_at=NOW
    )
    said = [{"booking": row.pk, "minutes": 40, "leaves_by": None} for row in players]
    ends_at = rfc3339(FRIDAY + timedelta(minutes=4 * 40 + 10))
    longer = dag.put(address, {"players": said}, match="*")
    assert (longer.status, longer.json["ends_at"]) == (200, ends_at)
    own = Api(cast.user_of(players[0].student)).get("bookings/").json["results"]
    assert [row["ends_at"] for row in own] == [ends_at]
    next_one = FRIDAY + timedelta(hours=3)
    cast.make_meeting(school.group, school.ilse, next_one, title="Chords that speak", places=2)
    said[0]["minutes"] = 60
    refusal = dag.put(address, {"players": said}, match="*")
    refused(refusal, "taken")
    assert "Ilse Quarrow has another meeting at " in refusal.json["detail"]
    assert "Chords that speak" in refusal.json["detail"]
