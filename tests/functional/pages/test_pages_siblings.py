"""TRADE.md 8, scenario 24: two lessons of one family, one after the other, move in one act."""

import re

import pytest

from accounts.models import Student
from bookings.models import Booking, OutboxMessage
from tests.cast import NOW, at, make_assessment, make_booking, make_meeting, make_minor, make_policy
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


def confirm(school: School, pair: tuple[Booking, Booking], starts_at: str) -> str:
    """The page on which the first of the pair would move to this start."""
    asked = moved_to(school, starts_at)
    return text_of(as_user(school.hedda).get(f"/my-lessons/{pair[0].pk}/move/", asked))


def both(school: School, pair: tuple[Booking, Booking], starts_at: str) -> dict[str, object]:
    """The form as that page shows it, with the pair together."""
    page = confirm(school, pair, starts_at)
    fields = dict(re.findall(r'name="(with_sibling|version)" value="([^"]+)"', page))
    return {**moved_to(school, starts_at), **fields}


def starts_of(pair: tuple[Booking, Booking]) -> list[str]:
    for row in pair:
        row.refresh_from_db()
    return [f"{row.starts_at:%d %H:%M}" for row in pair]


def test_a_guardian_moves_both_lessons_in_one_act(
    school: School, pair: tuple[Booking, Booking]
) -> None:
    """Kit's goes from 17:00 to Tuesday 18:00 and Lark's, proposed with it, to 18:30. One email
    tells both; two that say no more bring the new times to the calendar.
    """
    shown = confirm(school, pair, "2027-03-09T18:00:00Z")
    assert "Move Lark’s lesson too, from Monday 8 March, 17:30 to" in shown
    assert "Tuesday 9 March, 18:30 (Dublin)" in shown
    sent = both(school, pair, "2027-03-09T18:00:00Z")
    page = as_user(school.hedda).post(f"/my-lessons/{pair[0].pk}/move/", sent, follow=True)
    assert "Both lessons moved." in text_of(page)
    assert starts_of(pair) == ["09 18:00", "09 18:30"]
    to_hedda = OutboxMessage.objects.filter(recipient=school.hedda).order_by("pk")
    (told,) = to_hedda.filter(kind="told")
    assert "Kit’s lesson has moved from Tue 9 March 04:00, Sydney" in told.body
    assert "Lark’s lesson has moved from Tue 9 March 04:30, Sydney" in told.body
    entries = to_hedda.filter(kind="invitation")
    assert [("Kit" in row.body, "Lark" in row.body) for row in entries] == [
        (True, False),
        (False, True),
    ]
    assert all(row.calendar.count("BEGIN:VEVENT") == 1 for row in entries)


def test_a_guardian_may_move_one_lesson_alone(
    school: School, pair: tuple[Booking, Booking]
) -> None:
    """Without the tick, Lark's lesson stays where it is."""
    sent = moved_to(school, "2027-03-09T18:00:00Z")
    page = as_user(school.hedda).post(f"/my-lessons/{pair[0].pk}/move/", sent, follow=True)
    assert "Moved. Your calendar" in text_of(page)
    assert starts_of(pair) == ["09 18:00", "08 17:30"]


def test_neither_lesson_moves_where_one_cannot(
    school: School, pair: tuple[Booking, Booking]
) -> None:
    """Marlo has the time next to the new one: the page names Lark, and keeps what was chosen."""
    lesson(school, school.marlo, "2027-03-09T18:30Z")
    sent = both(school, pair, "2027-03-09T18:00:00Z")
    answer = as_user(school.hedda).post(f"/my-lessons/{pair[0].pk}/move/", sent)
    assert answer.status_code == 409
    assert "Lark’s lesson cannot move, so neither has moved." in text_of(answer)
    assert "checked" in text_of(answer)
    assert starts_of(pair) == ["08 17:00", "08 17:30"]
    assert not OutboxMessage.objects.exists()


def test_a_sibling_s_lesson_that_moved_meanwhile_is_looked_at_again(
    school: School, pair: tuple[Booking, Booking]
) -> None:
    """In another tab Lark's lesson goes to the other side of Kit's, so the page showed a time at
    which it would not be."""
    sent = both(school, pair, "2027-03-09T18:00:00Z")
    hedda, other = as_user(school.hedda), moved_to(school, "2027-03-08T16:30:00Z")
    assert hedda.post(f"/my-lessons/{pair[1].pk}/move/", other).status_code == 302
    answer = hedda.post(f"/my-lessons/{pair[0].pk}/move/", sent)
    assert (answer.status_code, starts_of(pair)) == (412, ["08 17:00", "08 16:30"])
    assert "Tuesday 9 March, 17:30 (Dublin)" in text_of(answer)


def test_a_sibling_s_lesson_past_its_deadline_is_not_proposed(
    school: School, pair: tuple[Booking, Booking]
) -> None:
    """Lark's was to be moved eight days ahead at the latest; Kit's can go alone."""
    policy = make_policy(version=2, notice_minutes=8 * 24 * 60)
    pair[1].policy = policy
    pair[1].save()
    assert "with_sibling" not in confirm(school, pair, "2027-03-09T18:00:00Z")


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
def test_a_lesson_that_is_not_next_to_it_is_not_proposed(school: School, other: str) -> None:
    """Not on another day, with another instructor or of another family."""
    first = lesson(school, child_of_hedda(school, "Kit"), "2027-03-08T17:00Z")
    if other == "another family":
        second = lesson(school, school.marlo, "2027-03-08T17:30Z")
    else:
        starts_at = "2027-03-09T17:30Z" if other == "another day" else "2027-03-08T17:30Z"
        teacher = school.wren if other == "another instructor" else school.ilse
        second = lesson(school, child_of_hedda(school, "Lark"), starts_at, teacher)
    assert "with_sibling" not in confirm(school, (first, second), "2027-03-09T16:00:00Z")
