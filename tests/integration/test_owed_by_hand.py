"""Owed lessons that lapse, and what an admin decides about them."""

from datetime import date, timedelta

import pytest

from bookings.domain.vocabulary import OwedCause, OwedClosed
from bookings.door import write
from bookings.models import OutboxMessage
from bookings.operations.owed import carry_in, carry_out, extend_owed, lapse_owed, settle_owed
from bookings.operations.terms import publish_term
from tests.cast import at
from tests.school.owed import OwedSchool
from tests.school.weekly import refused

pytestmark = pytest.mark.django_db

FIRST, SECOND, THIRD = date(2027, 1, 19), date(2027, 1, 26), date(2027, 2, 2)
MINUTE = timedelta(minutes=1)


@pytest.fixture
def school() -> OwedSchool:
    return OwedSchool()


def test_an_owed_lesson_lapses_once_its_date_is_over_at_the_students_home(school) -> None:
    """19 April ends in New York at 04:00 UTC. A sweep that runs twice or late does it once."""
    school.call_off(school.lesson_on(FIRST))
    for now, lapsed in (
        (at("2027-04-20T03:59Z"), 0),
        (at("2027-04-20T04:00Z"), 1),
        (at("2027-04-25T04:00Z"), 0),
    ):
        assert write(lambda now=now: lapse_owed(now=now), now=now) == lapsed
    (owed,) = school.owed()
    assert owed.closed_how == OwedClosed.LAPSED
    told = OutboxMessage.objects.filter(recipient=school.marlo.user, title__contains="lapsed")
    assert "was to be used by 19 April 2027" in told.get().body
    refused(
        "owed-settled",
        lambda: school.make_up(owed, at("2027-04-27T16:30Z"), at("2027-04-25T09:00Z")),
    )


def test_an_admin_extends_settles_and_carries_an_owed_lesson(school) -> None:
    """An admin extends settles and carries an owed lesson."""
    for week in range(3):
        school.call_off(school.lesson_on(FIRST + timedelta(weeks=week)))
    longer, refunded, carried = school.owed()
    now = at("2027-04-08T09:00Z")
    by = {"actor": school.dag, "now": now}
    summer = publish_term(
        actor=school.dag,
        name="Summer 2027",
        first_on=date(2027, 4, 19),
        last_on=date(2027, 7, 9),
        lessons_promised=11,
        now=now,
    )
    extend_owed(owed=longer, use_by=date(2027, 6, 1), reason="Long illness.", **by)
    settle_owed(owed=refunded, reason="Refunded.", **by)
    there = carry_out(
        owed=carried, term=summer, use_by=date(2027, 7, 9), reason="No time left.", **by
    )
    assert (there.term, there.cause, there.carried_from) == (
        summer,
        OwedCause.CARRIED_IN,
        carried,
    )
    assert [(row.use_by.month, row.closed_how) for row in school.owed()] == [
        (6, ""),
        (4, "by-hand"),
        (5, "carried-out"),
        (7, ""),
    ]
    for again in (settle_owed, extend_owed):
        more = {"use_by": date(2027, 6, 1)} if again is extend_owed else {}
        refused("owed-settled", lambda a=again, m=more: a(owed=refunded, reason="No.", **m, **by))
    told = OutboxMessage.objects.filter(recipient=school.marlo.user, body__contains="Why: Refunded")
    assert told.count() == 1


@pytest.mark.parametrize(
    ("code", "changes"),
    [
        ("past", {"use_by": date(2027, 1, 1)}),
        ("invalid", {"reason": "  "}),
        ("stale", {"version": 7}),
    ],
)
def test_a_use_by_in_the_past_and_an_act_without_a_reason_are_refused(
    school, code, changes
) -> None:
    """A use-by in the past and an act without a reason are refused."""
    school.call_off(school.lesson_on(FIRST))
    values = {"use_by": date(2027, 6, 1), "reason": "Ill.", **changes}
    refused(
        code,
        lambda: extend_owed(
            actor=school.dag, owed=school.owed()[0], now=at("2027-02-01T09:00Z"), **values
        ),
    )


def test_a_lesson_owed_from_before_is_carried_in_with_a_reason(school) -> None:
    """A lesson owed from before is carried in with a reason."""
    values = {
        "actor": school.dag,
        "student": school.marlo,
        "offering": school.lesson,
        "term": school.term,
        "now": at("2027-01-08T09:00Z"),
    }
    owed = carry_in(use_by=date(2027, 4, 9), reason="Owed since autumn.", **values)
    assert (owed.cause, owed.booking, owed.minutes) == (OwedCause.CARRIED_IN, None, 45)
    refused("past", lambda: carry_in(use_by=date(2027, 1, 7), reason="Late.", **values))


def test_only_an_admin_decides_about_an_owed_lesson(school) -> None:
    """Only an admin decides about an owed lesson."""
    school.call_off(school.lesson_on(FIRST))
    refused(
        "not-allowed",
        lambda: settle_owed(
            actor=school.marlo.user,
            owed=school.owed()[0],
            reason="Mine.",
            now=at("2027-02-01T09:00Z"),
        ),
    )
