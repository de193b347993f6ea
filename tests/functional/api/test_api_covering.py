"""Covering over the API: asked for, the substitute's own yes, adopted, and refused by a family."""

import pytest

from bookings import solving
from bookings.models import Booking, Meeting
from tests.cast import NOW, user_of
from tests.functional.api.client import Api
from tests.school.covering import CoveringSchool

pytestmark = pytest.mark.django_db


@pytest.fixture
def school(monkeypatch: pytest.MonkeyPatch) -> CoveringSchool:
    """The clock stands at NOW."""
    monkeypatch.setattr("bookings.clock.now", lambda: NOW)
    return CoveringSchool()


def test_a_lesson_passes_to_a_substitute_by_their_own_yes_and_the_family_refuses(
    school: CoveringSchool,
) -> None:
    """Source: TRADE.md 8 (21): Wren is proposed as substitute and each may refuse."""
    lesson = school.book(school.noor, 11)
    admin, wren = Api(school.admin), Api(school.wren.user)
    hours = {"starts_at": "2027-03-12T00:00:00Z", "ends_at": "2027-03-13T00:00:00Z"}
    inputs = {"instructor": school.ilse.pk, **hours}
    path = f"plans/{admin.post('plans/', {'kind': 'cover', 'inputs': inputs}).json['id']}/"
    solving.solve_plans()
    (row,) = admin.get(path).json["answer"]["handovers"]
    assert (row["to"], row["needs_yes"]) == (school.wren.pk, ["outside-hours"])
    assert admin.post(f"{path}adopt/", match="*").code == "not-yet"
    assert admin.post(f"{path}ask-substitutes/", match="*").status == 200
    (question,) = wren.get("cover-questions/").json["results"]
    assert (question["student"]["name"], question["level"]) == ("Noor Ashgrove", 4)
    answer = f"cover-questions/{question['id']}/answer/"
    assert admin.post(answer, {"says_yes": True}).status == 404
    assert wren.post(answer, {"says_yes": True}).json["says_yes"] is True
    solving.solve_plans()
    assert admin.post(f"{path}adopt/", match="*").json["standing"] == "ADOPTED"
    assert Meeting.objects.get().instructor == school.wren
    family = Api(user_of(school.noor))
    assert family.post(f"bookings/{lesson.pk}/decline/", match="*").status == 200
    assert Booking.objects.get().ended_why == "declined"


def test_hours_without_lessons_are_refused(school: CoveringSchool) -> None:
    """Nothing to cover, and an end before the start."""
    hours = {"starts_at": "2027-03-12T00:00:00Z", "ends_at": "2027-03-13T00:00:00Z"}
    asked = {"kind": "cover", "inputs": {"instructor": school.ilse.pk, **hours}}
    assert Api(school.admin).post("plans/", asked).status == 422
    asked["inputs"] = {**hours, "instructor": school.ilse.pk, "ends_at": hours["starts_at"]}
    assert Api(school.admin).post("plans/", asked).code == "end-before-start"
