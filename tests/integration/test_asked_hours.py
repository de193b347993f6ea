"""A plan of a group asks its families for their hours, and goes by what they say in time."""

from datetime import timedelta

import pytest

from bookings import solving
from bookings.domain.errors import Refused
from bookings.domain.student_hours import WishedWindow
from bookings.domain.vocabulary import PlanKind, Wish
from bookings.door import write
from bookings.models import AskedHours, AuditRow, Meeting, OutboxMessage, Plan
from bookings.operations.asked_hours import close_answers
from bookings.operations.plans import adopt_plan, ask_for_plan, discard_plan
from bookings.operations.student_hours import say_hours
from bookings.queries.plans import changes_since
from tests import cast
from tests.integration.nothing_written import refused
from tests.school.plans import ASKED_AT, PlanningSchool, starts_of

pytestmark = pytest.mark.django_db

CLOSES_AT = ASKED_AT + timedelta(days=5)
BEFORE, AFTER = CLOSES_AT - timedelta(seconds=1), CLOSES_AT + timedelta(seconds=30)
EASY, FOR_KOLKATA = "2027-02-03T13:00:00Z", "2027-02-03T12:00:00Z"
"""The start that costs least by the usual hours, and the latest that Asha says they can come."""


@pytest.fixture
def school(monkeypatch):
    """The clock of the solver stands at ASKED_AT."""
    monkeypatch.setattr("bookings.clock.now", lambda: ASKED_AT)
    return PlanningSchool()


def ask(school, answer_by=CLOSES_AT, **more):
    """A plan that asks, solved by what stands."""
    asked = school.asked(**more)
    plan = write(
        lambda: ask_for_plan(
            actor=school.admin,
            kind=PlanKind.GROUP,
            asked=asked,
            answer_by=answer_by,
            now=ASKED_AT,
        ),
        now=ASKED_AT,
    )
    return solved(plan)


def solved(plan):
    solving.solve_plans()
    plan.refresh_from_db()
    return plan


def say(student, now, *windows, actor=None):
    """The family's words for Wednesdays; without any, that the usual hours hold."""
    write(
        lambda: say_hours(
            actor=actor or student.user, student=student, windows=windows, school=None, now=now
        ),
        now=now,
    )


def only_until(minute):
    """On Wednesdays gladly until that minute of the local day, and never after it."""
    return WishedWindow(2, 0, minute, Wish.GLADLY), WishedWindow(2, minute, 1440, Wish.NEVER)


ASHA_UNTIL_18_30 = only_until(18 * 60 + 30)
"""In Kolkata 18:30 is 13:00 in UTC, so that an hour that starts at 12:00Z just fits."""


def close(now=AFTER):
    return write(lambda: close_answers(now=now), now=now)


def answers(plan):
    return dict(AskedHours.objects.filter(plan=plan).values_list("student", "answered_at"))


def test_before_the_date_the_plan_is_solved_by_what_stands(school):
    """It says so: it is open, and families who answer meanwhile are counted."""
    plan = ask(school)
    assert (plan.state, plan.is_open, starts_of(plan.answer)) == ("READY", True, [EASY])
    say(school.asha, BEFORE, *ASHA_UNTIL_18_30)
    assert changes_since(plan) == ["1 member has answered since."]
    say(school.noor, BEFORE)
    assert changes_since(plan) == ["2 members have answered since."]


def test_once_closed_the_plan_is_solved_by_what_was_said_in_time(school):
    """Once and no second time; who answered in time is kept."""
    plan = ask(school)
    say(school.asha, BEFORE, *ASHA_UNTIL_18_30)
    assert close(now=BEFORE) == 0
    assert close() == 1
    assert starts_of(solved(plan).answer) == [FOR_KOLKATA]
    assert (plan.closed_at, plan.is_open) == (AFTER, False)
    assert answers(plan) == {school.oona.pk: None, school.noor.pk: None, school.asha.pk: BEFORE}
    assert AuditRow.objects.filter(verb="closed answers", actor=None).count() == 1
    assert close() == 0


@pytest.mark.parametrize("closed_first", [False, True])
def test_what_is_said_too_late_does_not_change_the_plan(school, closed_first):
    """Whether or not the answers have been closed by then; the next plan goes by it."""
    plan = ask(school)
    if closed_first:
        close()
    say(school.asha, AFTER, *ASHA_UNTIL_18_30)
    close()
    assert starts_of(solved(plan).answer) == [EASY]
    assert answers(plan)[school.asha.pk] is None
    assert changes_since(plan) == []
    assert starts_of(ask(school, answer_by=None).answer) == [FOR_KOLKATA]


def test_what_stood_when_the_plan_asked_counts_for_whoever_does_not_answer(school):
    """A change after the date is late, although there was no answer before it."""
    say(school.asha, ASKED_AT, *ASHA_UNTIL_18_30)
    plan = ask(school)
    say(school.asha, AFTER)
    close()
    assert starts_of(solved(plan).answer) == [FOR_KOLKATA]


def test_the_last_answer_in_time_counts(school):
    """A family may change its words until the answers close."""
    plan = ask(school)
    say(school.asha, BEFORE - timedelta(days=1), *ASHA_UNTIL_18_30)
    say(school.asha, BEFORE)
    close()
    assert starts_of(solved(plan).answer) == [EASY]


def test_a_minor_s_own_words_count_and_are_no_answer(school):
    """A guardian answers for them."""
    posy = cast.make_minor("Posy Larkspur")
    plan = ask(school, members=[school.oona, posy])
    child = cast.give_account(posy)
    say(posy, BEFORE, actor=child)
    assert answers(plan)[posy.pk] is None
    say(posy, BEFORE, actor=posy.guardianships.get().guardian)
    assert answers(plan)[posy.pk] == BEFORE


def test_each_reader_gets_one_email_about_all_their_children(school):
    """It says until when, on their clock, and leads to the page of each child."""
    posy = cast.make_minor("Posy Larkspur")
    guardian = posy.guardianships.get().guardian
    kit = cast.make_minor("Kit Larkspur", guardian=guardian)
    ask(school, members=[school.oona, posy, kit])
    (email,) = OutboxMessage.objects.filter(recipient=guardian)
    assert email.title == "Which hours can Posy and Kit come? Ornaments"
    assert [f"/hours-to-come/?student={one.pk}" in email.body for one in (posy, kit)] == [True] * 2
    assert email.good_until == CLOSES_AT
    assert OutboxMessage.objects.filter(recipient=school.oona.user).count() == 1


def test_a_plan_that_asks_nobody_writes_to_nobody(school):
    """As before: the plan goes by what stands."""
    plan = ask(school, answer_by=None)
    assert not OutboxMessage.objects.exists()
    assert answers(plan) == {}


def test_a_plan_cannot_be_adopted_while_families_may_answer(school):
    """Nor in the moment between the date and the solver's new answer."""
    plan = ask(school)
    for now in (BEFORE, AFTER):
        refused("not-yet", lambda now=now: school.decide(adopt_plan, plan, now=now))
    close()
    refused("not-yet", lambda: school.decide(adopt_plan, plan, now=AFTER))
    school.decide(adopt_plan, solved(plan), now=AFTER)
    assert Meeting.objects.count() == 1


def test_a_discarded_plan_does_not_ask_any_more(school):
    """Nothing is kept for it, and it is not solved again."""
    plan = ask(school)
    school.decide(discard_plan, plan)
    say(school.asha, BEFORE)
    assert (close(), answers(plan)[school.asha.pk]) == (0, None)
    assert Plan.objects.get().state == "DISCARDED"


def test_an_email_that_asks_for_a_discarded_plan_is_not_sent(school):
    """It would ask for hours that nobody reads; another plan still asks."""
    plan, other = ask(school), ask(school)
    school.decide(discard_plan, plan)
    due = OutboxMessage.objects.filter(state="due", title__startswith="Which hours")
    assert {row.subject_key for row in due} == {f"plan:{other.pk}"}


@pytest.mark.parametrize(
    ("answer_by", "code"),
    [
        (ASKED_AT, "past"),
        (cast.at("2027-02-03T00:00Z"), "invalid"),
        (cast.at("2027-03-03T00:00Z"), "invalid"),
    ],
)
def test_answers_close_ahead_and_before_the_first_day(school, answer_by, code):
    """Nothing is stored or sent, and the refusal names the field."""
    with pytest.raises(Refused) as caught:
        ask(school, answer_by=answer_by)
    assert (caught.value.code, caught.value.data["field"]) == (code, "answer_by")
    assert not Plan.objects.exists()
    assert not OutboxMessage.objects.exists()
