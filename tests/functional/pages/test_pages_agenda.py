"""The order of players on its page: worked out, published, read by the roster, printed."""

import pytest

from bookings.models import Booking, OutboxMessage
from tests.cast import make_booking, make_student
from tests.functional.pages.school import School, as_user, text_of
from tests.school.masterclasses import masterclass_place


@pytest.fixture
def place(school: School) -> Booking:
    """Noor's place in a masterclass on Sunday 14 March 2027, 19:00 in Dublin, with Marlo."""
    place = masterclass_place(school.ilse, school.noor)
    make_booking(place.meeting, school.marlo)
    return place


def typed(place: Booking, then: str, **says: str) -> dict[str, str]:
    """What an admin sends: 15 minutes each, nobody leaves early."""
    place.meeting.refresh_from_db()
    data = {"version": str(place.meeting.version), "then": then}
    for booking in place.meeting.bookings.all():
        data |= {f"minutes_{booking.pk}": "15", f"leaves_{booking.pk}": ""}
    return data | says


def test_working_it_out_saves_nothing_and_publishing_tells_the_players(
    school: School, place: Booking
) -> None:
    """Marlo must leave by 19:20, so that they play first."""
    dag, address = as_user(school.dag), f"/meetings/{place.meeting_id}/agenda/"
    marlo = place.meeting.bookings.get(student=school.marlo)
    early = {f"leaves_{marlo.pk}": "19:20"}
    looked = text_of(dag.post(address, typed(place, "look", **early)))
    assert "This is not published yet." in looked
    assert "1. <b>Marlo Vance</b>" in looked
    assert "No order has been published yet." in looked
    assert not OutboxMessage.objects.exists()
    assert dag.post(address, typed(place, "publish", **early)).status_code == 302
    page = text_of(dag.get(address))
    assert "1. <b>Marlo Vance</b>" in page
    assert "This turn is early because the player has to leave early." not in page
    assert "<b>19:40</b>" in page
    assert OutboxMessage.objects.count() == 2


def test_the_room_reads_what_players_bring(school: School, place: Booking) -> None:
    """The pieces for everybody; recordings for those who run it and for the player's family."""
    place.intake.recordings = ["My harp on Sunday"]
    place.intake.save()
    address = f"/meetings/{place.meeting_id}/agenda/"
    as_user(school.dag).post(address, typed(place, "publish"))
    ilse = text_of(as_user(school.ilse.user).get(address))
    noor = text_of(as_user(school.noor.user).get(address))
    marlo = text_of(as_user(school.marlo.user).get(address))
    for reader in (ilse, noor, marlo):
        assert "Study in G" in reader
    assert ["My harp on Sunday" in reader for reader in (ilse, noor, marlo)] == [True, True, False]
    assert "Publish" not in ilse + noor
    assert "level 4" not in noor
    assert "15:00" in noor  # two weeks before Dublin, New York has changed its clocks


def test_a_family_says_by_when_it_must_leave(school: School, place: Booking) -> None:
    """On its own clock; the order that was published is then old."""
    address, noor = f"/my-lessons/{place.pk}/leaves-by/", as_user(school.noor.user)
    as_user(school.dag).post(f"/meetings/{place.meeting_id}/agenda/", typed(place, "publish"))
    assert "On the clock of New York" in text_of(noor.get(address))
    refused = noor.post(address, {"leaves_by": "14:00"})
    assert (refused.status_code, "Give a time within the meeting" in text_of(refused)) == (
        422,
        True,
    )
    assert noor.post(address, {"leaves_by": "15:10"}).status_code == 302
    page = text_of(noor.get(f"/meetings/{place.meeting_id}/agenda/"))
    assert "This order no longer fits" in page


def test_whoever_cannot_be_kept_is_named_on_the_page(school: School, place: Booking) -> None:
    """Both have to be done after one turn."""
    both = {f"leaves_{booking.pk}": "19:15" for booking in place.meeting.bookings.all()}
    page = as_user(school.dag).post(
        f"/meetings/{place.meeting_id}/agenda/", typed(place, "publish", **both)
    )
    assert page.status_code == 409
    assert "Cannot leave in time: Marlo Vance." in text_of(page)


def test_only_an_admin_publishes(school: School, place: Booking) -> None:
    """The instructor and a player read the order; somebody without a place does not."""
    address = f"/meetings/{place.meeting_id}/agenda/"
    for reader in (school.ilse.user, school.noor.user):
        assert as_user(reader).post(address, typed(place, "look")).status_code == 403
    outside = make_student("Wilf Marsh")
    assert as_user(outside.user).get(address).status_code == 404


def test_my_lessons_and_the_roster_lead_there(school: School, place: Booking) -> None:
    """The player also says there that they must leave early."""
    address = f"/meetings/{place.meeting_id}/agenda/"
    lessons = text_of(as_user(school.noor.user).get("/my-lessons/"))
    assert address in lessons
    assert f"/my-lessons/{place.pk}/leaves-by/" in lessons
    assert address in text_of(as_user(school.ilse.user).get(f"/meetings/{place.meeting_id}/"))
