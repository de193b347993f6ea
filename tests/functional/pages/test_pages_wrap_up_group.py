"""Wrap up a group meeting on one page: one register, one note that each who came gets alone."""

import re

import pytest

from bookings.models import Assessment, Mark, Meeting, OutboxMessage
from tests.cast import NOW, PASSWORD, make_assessment
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, make_school, text_of
from tests.functional.pages.wrapping_up_group import (
    just_over,
    place_of,
    sent,
    shown,
    where,
)


@pytest.fixture
def school(db: None) -> School:
    return make_school(PASSWORD)


@pytest.fixture
def group(school: School, hands: Hands) -> Meeting:
    return just_over(school, hands)


def test_all_are_present_then_the_exceptions(school: School, group: Meeting) -> None:
    """One press keeps the register of all and a draft for each who came."""
    ilse = as_user(school.ilse.user)
    page = text_of(ilse.get(where(group)))
    assert page.count('<option value="PRESENT" selected>') == 3
    posy = place_of(group, "Posy")
    said = sent(page, **{f"mark-{posy}": "ABSENT_WITH_NOTICE"})
    assert ilse.post(where(group), said).url == where(group)
    marks = dict(Mark.objects.values_list("booking__student__own_name", "attendance"))
    assert marks["Posy Lindqvist-Reed"] == "ABSENT_WITH_NOTICE"
    assert Mark.objects.count() == 3
    assert {note.student_id for note in Assessment.objects.all()} == {
        school.noor.pk,
        school.marlo.pk,
    }
    again = text_of(ilse.get(where(group)))
    assert "Draft saved 14:30" in again
    assert "Sing it before you play it</textarea>" in again
    assert '<option value="ABSENT_WITH_NOTICE" selected>' in again


def test_each_student_gets_a_note_of_their_own(school: School, group: Meeting) -> None:
    """Released after asking once more, in one press; a goal is read by one student alone, and
    nobody reads another's name.
    """
    ilse = as_user(school.ilse.user)
    goal = {f"goal-{place_of(group, 'Noor')}": "The air in D by heart"}
    said = sent(text_of(ilse.get(where(group))), **goal, then="release")
    asked = text_of(ilse.get(ilse.post(where(group), said).url))
    assert "Release to 3 students?" in asked
    assert "Their goal: The air in D by heart" in asked
    assert not Assessment.objects.filter(state="released").exists()
    done = ilse.post(f"{where(group)}release/", shown(asked), follow=True)
    assert "three notes released, and each family gets an email." in text_of(done)
    assert Assessment.objects.filter(state="released", form="lesson-note").count() == 3
    mails = OutboxMessage.objects.filter(kind="assessment")
    assert {row.recipient for row in mails} == {school.noor.user, school.marlo.user, school.hedda}
    for reader, student in ((school.noor.user, school.noor), (school.marlo.user, school.marlo)):
        note = Assessment.objects.get(student=student)
        page = text_of(as_user(reader).get(f"/assessments/{note.pk}/"))
        assert "Sing it before you play it" in page
        assert ("by heart" in page) == (student == school.noor)
        assert not re.search("Posy|Hedda" + ("|Marlo" if student == school.noor else "|Noor"), page)


def test_all_or_nobody_where_another_s_note_is_the_latest(school: School, group: Meeting) -> None:
    """Wren's note about Marlo is named and asked about; without the tick nothing is released."""
    theirs = make_assessment(school.marlo, school.wren, state="released", released_at=NOW)
    ilse = as_user(school.ilse.user)
    ilse.post(where(group), sent(text_of(ilse.get(where(group)))))
    asked = text_of(ilse.get(f"{where(group)}release/"))
    assert "Release mine after the note by Wren Halloway" in asked
    refused = ilse.post(f"{where(group)}release/", shown(asked))
    assert refused.status_code == 409
    assert "Marlo’s note:" in text_of(refused)
    assert not Assessment.objects.filter(state="released", author=school.ilse).exists()
    tick = {f"over-{place_of(group, 'Marlo')}": theirs.pk}
    assert ilse.post(f"{where(group)}release/", {**shown(asked), **tick}).status_code == 302
    assert Assessment.objects.filter(state="released", author=school.ilse).count() == 3


@pytest.mark.parametrize(
    ("name", "typed"), [("heard", "x\n" * 9), ("next_steps", "y" * 301), ("goal", "z" * 301)]
)
def test_a_fault_is_said_at_its_field(
    school: School, group: Meeting, name: str, typed: str
) -> None:
    """Nothing is saved, and what was typed is there."""
    ilse = as_user(school.ilse.user)
    field = f"goal-{place_of(group, 'Noor')}" if name == "goal" else name
    faulty = ilse.post(where(group), sent(text_of(ilse.get(where(group))), **{field: typed}))
    assert (faulty.status_code, f'id="id_{field}_error"' in text_of(faulty)) == (422, True)
    assert typed.strip() in text_of(faulty)
    assert (Assessment.objects.count(), Mark.objects.count()) == (0, 0)


def test_today_and_the_roster_lead_to_it(school: School, group: Meeting) -> None:
    """Once the meeting has begun."""
    ilse, link = as_user(school.ilse.user), f'href="{where(group)}"'
    assert link in text_of(ilse.get("/today/"))
    assert link in text_of(ilse.get(f"/meetings/{group.pk}/"))


def test_only_its_instructor_wraps_up_a_group(school: School, group: Meeting) -> None:
    """Not an admin, not a member; a one-on-one has a page of its own, and nothing opens early."""
    for user in (school.dag, school.wren.user, school.noor.user):
        assert as_user(user).get(where(group)).status_code == 404
    ilse = as_user(school.ilse.user)
    assert ilse.get(f"/wrap-up/meetings/{school.booking.meeting_id}/").status_code == 404
    assert ilse.get(where(school.circle)).status_code == 409


def test_a_text_that_one_student_alone_has_so_far_is_named(school: School, group: Meeting) -> None:
    """It was written on that student's own page: the group's page says so before it is shared."""
    make_assessment(
        school.noor,
        school.ilse,
        form="lesson-note",
        meeting=group,
        heard=["An air"],
        next_steps=[],
        goal="",
    )
    page = text_of(as_user(school.ilse.user).get(where(group)))
    assert "So far this text is in the draft of Noor Ashgrove alone." in page
    assert "An air</textarea>" in page
