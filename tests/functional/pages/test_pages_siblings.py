"""Two lessons of one family, one after the other: when one moves, the page offers the other too."""

from urllib.parse import unquote

import pytest

from accounts.models import Student
from bookings.models import Booking, OutboxMessage
from tests.cast import NOW, at, make_assessment, make_booking, make_meeting, make_minor
from tests.functional.pages.school import School, as_user, text_of


def child_of_hedda(school: School, name: str) -> Student:
    return make_minor(f"{name} Lindqvist-Reed", "Europe/Dublin", guardian=school.hedda)


def lesson(school: School, child: Student, starts_at: str, teacher: object = None) -> Booking:
    meeting = make_meeting(school.consultation, teacher or school.ilse, at(starts_at))
    return make_booking(meeting, child)


@pytest.fixture
def pair(school: School) -> tuple[Booking, Booking]:
    """Kit at 17:00 and Lark at 17:30 in Dublin, both with Ilse."""
    kit, lark = child_of_hedda(school, "Kit"), child_of_hedda(school, "Lark")
    first = lesson(school, kit, "2027-03-08T17:00Z")
    return first, lesson(school, lark, "2027-03-08T17:30Z")


def moved_to(school: School, starts_at: str) -> dict[str, object]:
    return {"instructor": school.ilse.pk, "starts_at": starts_at}


def test_the_other_lesson_is_offered_next_to_the_moved_one(
    school: School, pair: tuple[Booking, Booking]
) -> None:
    """Kit's goes from 17:00 to Tuesday 18:00, so Lark's is offered at 18:30; the guardian confirms
    it there, and each family email is about one child.
    """
    first, second = pair
    hedda = as_user(school.hedda)
    sent = moved_to(school, "2027-03-09T18:00:00Z")
    answer = hedda.post(f"/my-lessons/{first.pk}/move/", sent)
    assert unquote(answer.url) == (
        f"/my-lessons/{second.pk}/move/?instructor={school.ilse.pk}&starts_at=2027-03-09T18:30:00Z"
    )
    shown = text_of(hedda.get(answer.url))
    assert "Lark’s lesson was next to it." in shown
    assert "Tuesday 9 March" in shown
    again = moved_to(school, "2027-03-09T18:30:00Z")
    assert hedda.post(f"/my-lessons/{second.pk}/move/", again).url == "/my-lessons/"
    second.refresh_from_db()
    assert second.starts_at == at("2027-03-09T18:30Z")
    told = OutboxMessage.objects.filter(recipient=school.hedda, kind="invitation").order_by("pk")
    assert [("Kit" in row.body, "Lark" in row.body) for row in told] == [
        (True, False),
        (False, True),
    ]


def test_the_notes_of_siblings_stay_separate(school: School, pair: tuple[Booking, Booking]) -> None:
    """Each child's page shows their own note alone."""
    first, second = pair
    kit, lark = first.student, second.student
    for child, step in ((kit, "Close each finger."), (lark, "Count aloud.")):
        make_assessment(child, school.ilse, state="released", released_at=NOW, next_steps=[step])
    hedda = as_user(school.hedda)
    for child, own, other in ((kit, "Close each", "Count"), (lark, "Count", "Close each")):
        note = child.assessments.get()
        shown = text_of(hedda.get(f"/assessments/{note.pk}/"))
        assert own in shown
        assert other not in shown


@pytest.mark.parametrize("other", ["another day", "another instructor", "another family"])
def test_a_lesson_that_was_not_next_to_it_stays_unsaid(school: School, other: str) -> None:
    """Not on another day, with another instructor or of another family."""
    first = lesson(school, child_of_hedda(school, "Kit"), "2027-03-08T17:00Z")
    if other == "another family":
        lesson(school, school.marlo, "2027-03-08T17:30Z")
    else:
        starts_at = "2027-03-09T17:30Z" if other == "another day" else "2027-03-08T17:30Z"
        teacher = school.wren if other == "another instructor" else school.ilse
        lesson(school, child_of_hedda(school, "Lark"), starts_at, teacher)
    sent = moved_to(school, "2027-03-09T16:00:00Z")
    answer = as_user(school.hedda).post(f"/my-lessons/{first.pk}/move/", sent)
    assert answer.url == "/my-lessons/"
