"""A substitute's own yes: asked for by email, given by nobody else, and kept."""

from datetime import timedelta

import pytest

from bookings.door import write
from bookings.models import CoverQuestion, LoadAllowance, Meeting, OutboxMessage
from bookings.operations.cover_questions import answer_cover_question, ask_substitutes
from bookings.operations.plans import adopt_plan, discard_plan
from tests import cast
from tests.cast import NOW
from tests.integration.nothing_written import refused
from tests.school.covering import DAY, DECIDED_AT, CoveringSchool

pytestmark = pytest.mark.django_db

EARLY, WITHIN = 11, 13
"""UTC hours before Wren's teaching hours, and within them."""


@pytest.fixture
def school(monkeypatch):
    """The clock of the solver stands at NOW."""
    monkeypatch.setattr("bookings.clock.now", lambda: NOW)
    return CoveringSchool()


def test_a_lesson_outside_the_hours_waits_and_the_others_are_adopted(school):
    """It stays with Ilse, and its family is told nothing."""
    early, within = school.book(school.noor, EARLY), school.book(school.posy, WITHIN)
    plan = school.solved()
    waits = {row["meeting"]: row["waits"] for row in plan.answer["handovers"]}
    assert waits == {early.meeting_id: True, within.meeting_id: False}
    school.decide(adopt_plan, plan)
    taught = dict(Meeting.objects.values_list("pk", "instructor"))
    assert taught == {early.meeting_id: school.ilse.pk, within.meeting_id: school.wren.pk}
    assert not OutboxMessage.objects.filter(recipient=school.noor.user, made_at=DECIDED_AT).exists()


def test_a_plan_in_which_every_lesson_waits_cannot_be_adopted_yet(school):
    """It has to be asked first."""
    school.book(school.noor, EARLY)
    plan = school.solved()
    refused("not-yet", lambda: school.decide(adopt_plan, plan))


def test_the_substitute_is_asked_by_one_email_and_the_families_are_told_nothing(school):
    """Two lessons, one email, asked once."""
    school.book(school.noor, EARLY)
    school.book(school.posy, EARLY - 1)
    plan = school.solved()
    assert len(school.ask_substitutes(plan)) == 2
    (email,) = OutboxMessage.objects.filter(made_at=DECIDED_AT)
    assert email.recipient == school.wren.user
    assert "Noor Ashgrove, level 4" in email.body
    assert "/cover/" in email.body
    assert "Lindqvist" not in email.body
    refused("already-done", lambda: school.decide(ask_substitutes, plan))


def test_a_yes_solves_the_plan_again_and_is_kept_as_an_allowance_of_load(school):
    """The lesson then waits for nobody; adopting keeps the yes in Wren's own name."""
    lesson = school.book(school.noor, EARLY)
    plan = school.solved()
    (question,) = school.ask_substitutes(plan)
    school.answer(question, says_yes=True)
    plan.refresh_from_db()
    assert (plan.state, plan.answer) == ("SOLVING", None)
    (row,) = school.solve(plan).answer["handovers"]
    assert (row["waits"], row["said_yes"], row["needs_yes"]) == (False, True, [])
    school.decide(adopt_plan, plan)
    assert Meeting.objects.get().instructor == school.wren
    kept = LoadAllowance.objects.get()
    assert (kept.instructor, kept.starts_at, kept.allowed_by) == (
        school.wren,
        lesson.starts_at,
        school.wren.user,
    )


def test_a_no_leaves_the_lesson_and_says_why(school):
    """Nobody else could take it."""
    school.book(school.noor, EARLY)
    plan = school.solved()
    (question,) = school.ask_substitutes(plan)
    school.answer(question, says_yes=False)
    answer = school.solve(plan).answer
    assert answer["handovers"] == []
    assert answer["uncovered"][0]["why"].endswith("has said no.")


def test_an_answer_holds_in_the_next_plan_too(school):
    """Nobody is asked twice about the same lesson."""
    school.book(school.noor, EARLY)
    plan = school.solved()
    (question,) = school.ask_substitutes(plan)
    school.answer(question, says_yes=True)
    school.decide(discard_plan, school.solve(plan))
    (row,) = school.solved().answer["handovers"]
    assert row["said_yes"]


def test_nobody_but_the_substitute_answers(school):
    """Not even an admin; and the instructor who is ill does not either."""
    school.book(school.noor, EARLY)
    (question,) = school.ask_substitutes(school.solved())
    for actor in (school.admin, school.ilse.user, school.noor.user):
        refused(
            "not-allowed",
            lambda actor=actor: answer_cover_question(
                actor=actor, question=question, says_yes=True, now=DECIDED_AT
            ),
        )
    assert CoverQuestion.objects.get().says_yes is None


def test_the_same_answer_again_changes_nothing_and_another_is_refused(school):
    """A yes is given once; an admin hears of a change of mind."""
    school.book(school.noor, EARLY)
    plan = school.solved()
    (question,) = school.ask_substitutes(plan)
    school.answer(question, says_yes=True)
    school.solve(plan)
    school.answer(question, says_yes=True)
    plan.refresh_from_db()
    assert plan.state == "READY"
    refused("already-done", lambda: school.answer(question, says_yes=False))


def test_a_question_of_a_plan_that_is_over_or_a_lesson_that_has_begun_is_closed(school):
    """The lesson begins; the plan is discarded."""
    lesson = school.book(school.noor, EARLY)
    plan = school.solved()
    (question,) = school.ask_substitutes(plan)
    who = school.wren.user
    late = {"actor": who, "question": question, "says_yes": True, "now": lesson.starts_at}
    refused("past", lambda: write(lambda: answer_cover_question(**late), now=late["now"]))
    school.decide(discard_plan, plan)
    refused("already-ended", lambda: school.answer(question, says_yes=True))


def test_beyond_the_load_only_as_many_yeses_are_asked_for_as_are_needed(school):
    """Two lessons of 25 minutes on a day that may have 30: one of them needs Wren's yes."""
    cast.make_policy(version=2, in_force_from=NOW - timedelta(days=1), day_minutes=30)
    school.ilse.load_allowances.create(
        starts_at=DAY + timedelta(hours=14), allowed_by=school.ilse.user, allowed_at=NOW
    )
    school.book(school.noor, 13)
    school.book(school.posy, 14)
    plan = school.solved()
    needed = [row["needs_yes"] for row in plan.answer["handovers"]]
    assert sorted(needed) == [[], ["load-day"]]
    (question,) = school.ask_substitutes(plan)
    school.answer(question, says_yes=True)
    school.decide(adopt_plan, school.solve(plan))
    assert {meeting.instructor for meeting in Meeting.objects.all()} == {school.wren}


def test_a_discarded_plan_tells_whom_it_asked_once(school):
    """One email about both lessons, though one was answered with a yes; the families get none."""
    school.book(school.noor, EARLY)
    school.book(school.posy, EARLY - 1)
    plan = school.solved()
    school.answer(school.ask_substitutes(plan)[0], says_yes=True)
    before = set(OutboxMessage.objects.values_list("pk", flat=True))
    school.decide(discard_plan, plan)
    (email,) = OutboxMessage.objects.exclude(pk__in=before)
    assert (email.recipient, email.title) == (
        school.wren.user,
        "You are not needed as a substitute",
    )
    assert "Noor Ashgrove" in email.body
    assert "Posy" in email.body
    assert "Lindqvist" not in email.body


def test_who_said_no_or_was_never_asked_hears_nothing_of_a_discarded_plan(school):
    """There is nothing to take back."""
    school.book(school.noor, EARLY)
    school.decide(discard_plan, school.solved())
    plan = school.solved()
    (question,) = school.ask_substitutes(plan)
    school.answer(question, says_yes=False)
    before = OutboxMessage.objects.count()
    school.decide(discard_plan, plan)
    assert OutboxMessage.objects.count() == before


def test_who_was_not_sent_the_question_hears_nothing_of_a_discarded_plan(school):
    """The question stays here, and there is nothing to take back."""
    school.book(school.noor, EARLY)
    plan = school.solved()
    school.ask_substitutes(plan)
    asked = OutboxMessage.objects.get(title="Would you teach as a substitute?")
    school.decide(discard_plan, plan)
    asked.refresh_from_db()
    assert asked.state == "superseded"
    assert not OutboxMessage.objects.filter(title__startswith="You are not needed").exists()


def test_who_was_sent_the_question_is_told_that_the_plan_is_discarded(school):
    """Nobody keeps a time free for it."""
    school.book(school.noor, EARLY)
    plan = school.solved()
    school.ask_substitutes(plan)
    OutboxMessage.objects.update(state="sent", sent_at=NOW)
    school.decide(discard_plan, plan)
    told = OutboxMessage.objects.get(title__startswith="You are not needed")
    assert told.recipient == school.wren.user
