"""The levels of a group meeting's players: taken from what its instructor teaches, and kept."""

import pytest

from bookings.domain.errors import Refused
from bookings.operations import places, waiting
from bookings.operations.meetings import change_meeting
from tests import cast
from tests.cast import at
from tests.school.groups import LISTENER, Class, refused

LATER = at("2027-03-20T17:00Z")


@pytest.fixture
def school(db: None) -> Class:
    """Ilse teaches the class at levels 3 to 8."""
    school = Class()
    school.ilse.teaches.update(lowest_level=3, highest_level=8)
    return school


def change(school: Class, meeting=None, **wanted):
    act = {"actor": school.admin, "meeting": meeting or school.meeting}
    return school.do(change_meeting, **act, **wanted)


def test_a_meeting_takes_the_levels_that_its_instructor_teaches(school: Class) -> None:
    """Later changes of what is taught leave the meeting as it was announced."""
    made = school.make(LATER)
    school.ilse.teaches.update(lowest_level=1)
    made.refresh_from_db()
    assert (made.lowest_level, made.highest_level) == (3, 8)


def test_a_level_outside_the_band_takes_no_player_place_but_listens(school: Class) -> None:
    """Level 1 at levels 3 to 8: neither a place nor the waiting list of players."""
    made, beginner = school.make(LATER), cast.make_student("Ida Quince", level=1)
    for act in (places.book_place, waiting.join_waiting_list):
        refused("other-level", lambda act=act: school.do(act, beginner, meeting=made))
    booked = school.do(places.book_place, beginner, meeting=made, place_kind=LISTENER)
    assert booked.place_kind == "listener"


def test_an_admin_places_another_level_with_a_reason(school: Class) -> None:
    """The exception stands, and a narrower band later does not count it."""
    made, beginner = school.make(LATER), cast.make_student("Ida Quince", level=1)
    more = {"actor": school.admin, "meeting": made, "reason": "Plays above the level."}
    school.do(places.book_place, beginner, **more)
    changed = change(school, made, lowest_level=4)
    assert (changed.lowest_level, changed.taken) == (4, 1)


def test_a_band_beyond_what_is_taught_is_refused(school: Class) -> None:
    """New or changed; and one whose ends are the wrong way round."""
    refused("not-taught", lambda: school.make(LATER, highest_level=9))
    made = school.make(LATER, lowest_level=4, highest_level=6)
    refused("not-taught", lambda: change(school, made, lowest_level=2))
    refused("invalid", lambda: change(school, made, lowest_level=7))
    assert change(school, made, highest_level=8).highest_level == 8


def test_a_band_that_excludes_those_already_in_is_refused_with_their_number(
    school: Class,
) -> None:
    """Two at level 4 hold places and one waits; from level 5 on none of them could."""
    a, b, c, _ = school.students
    for student in (a, b):
        school.do(places.book_place, student)
    school.do(waiting.join_waiting_list, c)
    with pytest.raises(Refused) as caught:
        change(school, lowest_level=5)
    assert caught.value.code == "has-bookings"
    assert caught.value.detail.startswith("2 on the roster and 1 on the waiting list")
    assert caught.value.data == {"field": "lowest_level"}


def test_listeners_do_not_hold_the_band(school: Class) -> None:
    """A listener of level 4 stays when the players are from level 5 on."""
    school.do(places.book_place, school.students[0], place_kind=LISTENER)
    assert change(school, lowest_level=5).lowest_level == 5
