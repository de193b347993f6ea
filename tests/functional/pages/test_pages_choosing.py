"""Players are chosen on the roster page; families apply on the meeting's page."""

import pytest

from bookings.models import WaitingPlace
from tests.cast import NOW
from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def circle(school: School) -> str:
    """The address of a meeting for whose player places families apply; anybody may listen."""
    school.circle.players_are_chosen = True
    school.circle.places, school.circle.listener_places = 2, 4
    school.circle.save()
    return f"/meetings/{school.circle.pk}/"


def test_a_family_applies_and_reads_that_it_has(school: School, circle: str) -> None:
    """With a piece and a recording; no player place is to be booked, and no rank is shown."""
    noor, named = as_user(school.noor.user), {"student": school.noor.pk}
    page = text_of(noor.get(circle, named))
    assert "Apply to play" in page
    assert "Book a place" not in page
    assert "Book a listener place" in page
    sent = {**named, "as": "player", "then": "join", "piece": "Willow air", "recording": "At 7 min"}
    assert noor.post(circle + "waiting-list/", sent).status_code == 302
    applied = WaitingPlace.objects.get()
    assert (applied.piece, applied.recording) == ("Willow air", "At 7 min")
    page = text_of(noor.get(circle, named))
    assert "Noor has applied." in page
    assert "waiting list, first" not in page
    assert "applied; the school chooses the players" in text_of(noor.get("/my-lessons/"))
    assert noor.post(circle + "waiting-list/", {**named, "then": "leave"}).status_code == 302
    assert "Apply to play" in text_of(noor.get(circle, named))


def test_an_admin_chooses_and_closes(school: School, circle: str) -> None:
    """Each application with what the family wrote; closing asks once more."""
    for student, piece in ((school.noor, "Willow air"), (school.marlo, "Reel")):
        row = {"meeting": school.circle, "student": student, "joined_at": NOW, "piece": piece}
        WaitingPlace.objects.create(**row)
    dag = as_user(school.dag)
    page = text_of(dag.get(circle))
    assert "Piece: Willow air" in page
    assert page.count('name="who" value=') == 2
    assert "Close the choice" not in text_of(as_user(school.ilse.user).get(circle))
    chosen = {"who": school.marlo.pk, "version": school.circle.version}
    assert dag.post(circle + "choose/", chosen).status_code == 302
    assert school.circle.bookings.get().student == school.marlo
    assert dag.post(circle + "choose/", chosen).status_code == 412
    asked = text_of(dag.get(circle + "close-choice/"))
    assert "1 of 2 player places are given. Not chosen: 1." in asked
    assert dag.post(circle + "close-choice/").status_code == 302
    assert WaitingPlace.objects.get(student=school.noor).ended_why == "not-chosen"
    assert dag.get(circle + "close-choice/").status_code == 200
    assert "The players have been chosen." in text_of(as_user(school.noor.user).get(circle))
