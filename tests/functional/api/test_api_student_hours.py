"""The hours a student can come over the API: said, read again, and what slots/ makes of them."""

from typing import Any

import pytest

from bookings.models import Booking
from tests.cast import give_account
from tests.functional.api.client import Api
from tests.functional.api.matrix import MATRIX
from tests.functional.api.school import School
from tests.functional.api.world import make_world

GLADLY = {"weekday": "MO", "opens": "16:00", "closes": "18:00", "wish": "gladly"}
ALL_WEEK = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


def every_day(wish: str, opens: str = "00:00", closes: str = "24:00") -> list[dict[str, str]]:
    return [{"weekday": day, "opens": opens, "closes": closes, "wish": wish} for day in ALL_WEEK]


def say(api: Api, student: int, windows: list[dict[str, str]], school: Any = None) -> None:
    sent = {"wishes": windows, "school": school}
    assert api.put(f"students/{student}/hours/", sent, match="*").status == 200


def slots(api: Api, school: School, **asked: str) -> list[dict[str, Any]]:
    query = "".join(f"&{name}={value}" for name, value in asked.items())
    found: list[dict[str, Any]] = api.get(
        f"slots/?offering={school.consultation.pk}&limit=500{query}"
    ).json["results"]
    return found


def test_what_is_said_is_read_again(school: School) -> None:
    """In the order of the week; the answer to a write is what a read shows."""
    noor, path = Api(school.noor.user), f"students/{school.noor.pk}/hours/"
    before = noor.get(path)
    assert (before.json["wishes"], before.json["school"], before.json["changed_at"]) == (
        [],
        None,
        None,
    )
    never = {"weekday": "MO", "opens": "22:00", "closes": "24:00", "wish": "never"}
    sent = {"wishes": [never, GLADLY], "school": {"opens": "08:00", "closes": "15:30"}}
    said = noor.put(path, sent, match=before.etag)
    assert said.json["wishes"] == [GLADLY, never]
    assert said.json["school"] == sent["school"]
    assert noor.get(path).json == said.json
    assert noor.put(path, sent, match=before.etag).status == 412


def test_a_guardian_reads_what_is_presumed_and_settles_it(school: School) -> None:
    """Posy is 10 in March 2027: school, and a bedtime of 20:30 (common practice)."""
    hedda, path = Api(school.hedda), f"students/{school.posy.pk}/hours/"
    usual = {"school": {"opens": "08:00", "closes": "15:30"}, "bedtime": "20:30"}
    assert hedda.get(path).json["presumed"] == usual
    child = Api(give_account(school.posy))
    say(child, school.posy.pk, [GLADLY])
    assert hedda.get(path).json["presumed"] == usual
    say(hedda, school.posy.pk, [GLADLY])
    assert hedda.get(path).json["presumed"] is None


def test_hours_that_cannot_be_kept_are_refused_with_the_window_at_fault(school: School) -> None:
    """Two words for one hour, an end before the start, and 24:00 as a start."""
    noor, path = Api(school.noor.user), f"students/{school.noor.pk}/hours/"
    for second, code in (
        ({**GLADLY, "wish": "never"}, "invalid"),
        ({**GLADLY, "opens": "17:00", "wish": "possible"}, "invalid"),
        ({**GLADLY, "opens": "22:00", "closes": "06:00"}, "end-before-start"),
        ({**GLADLY, "opens": "24:00", "closes": "24:00"}, "end-before-start"),
    ):
        reply = noor.put(path, {"wishes": [GLADLY, second], "school": None}, match="*")
        assert (reply.status, reply.code, reply.json["index"]) == (422, code, 1)
    late = {"wishes": [], "school": {"opens": "15:30", "closes": "08:00"}}
    assert noor.put(path, late, match="*").code == "end-before-start"
    assert noor.get(path).json["changed_at"] is None


def test_night_is_in_the_list_only_when_asked_for(school: School) -> None:
    """Noor gives every hour only if there is nothing else: nothing is offered without asking."""
    noor = Api(school.noor.user)
    assert all(slot["burden"] < 8 for slot in slots(noor, school))
    say(noor, school.noor.pk, every_day("only-if-nothing-else"))
    assert slots(noor, school) == []
    found = slots(noor, school, night="include")
    assert {slot["burden"] for slot in found} == {8}
    assert found[0]["fit_reasons"][0] == "An hour marked “only if nothing else”."
    assert noor.get(f"slots/?offering={school.consultation.pk}&night=yes").status == 422


def test_an_hour_marked_never_is_in_no_list_and_can_be_booked(school: School) -> None:
    """Not with night either; its explanation says the family’s word, and booking it is 201."""
    noor = Api(school.noor.user)
    wanted = slots(noor, school)[0]
    say(noor, school.noor.pk, every_day("never"))
    assert slots(noor, school, night="include") == []
    asked = (
        f"slots/explain/?offering={school.consultation.pk}"
        f"&instructor={wanted['instructor']['id']}&starts_at={wanted['starts_at']}"
    )
    told = noor.get(asked).json
    assert (told["offered"], told["fit_reasons"][0]) == (True, "An hour marked “never”.")
    before = Booking.objects.count()
    sent = {
        "offering": school.consultation.pk,
        "instructor": wanted["instructor"]["id"],
        "starts_at": wanted["starts_at"],
    }
    assert noor.post("bookings/", sent).status == 201
    assert Booking.objects.count() == before + 1


@pytest.mark.parametrize("role", ["teacher", "foreign instructor", "stranger", "barred guardian"])
def test_canary_in_the_hours_a_family_says_changes_no_answer(school: School, role: str) -> None:
    """Whatever word is said of every hour but “never”, each of them reads the same bytes."""
    world = make_world(school)
    reader, told = Api(world.people()[role]), []
    paths = [route.path(world) for (verb, _), route in MATRIX.items() if verb == "GET"]
    for wish in (None, "only-if-nothing-else"):
        if wish:
            say(Api(world.owner), world.learner.pk, every_day(wish))
        told.append({path: reader.get(path).body for path in paths})
    assert told[0] == told[1]


def test_what_is_said_moves_the_fit(school: School) -> None:
    """The same start, gladly, possible and only if nothing else."""
    noor = Api(school.noor.user)
    fits = []
    for wish in ("gladly", "possible", "only-if-nothing-else"):
        say(noor, school.noor.pk, every_day(wish))
        fits.append(slots(noor, school, night="include")[0]["fit"])
    assert fits == sorted(fits, reverse=True)
    assert len(set(fits)) == 3
