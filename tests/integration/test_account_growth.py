"""An account reads each owed lesson once, however many there are."""

import re
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.domain.accounts import Root
from bookings.models import OwedLesson, Term
from bookings.operations.owed import carry_out
from bookings.pages.account_rows import parts_of
from bookings.queries.accounts import account_in
from tests.cast import at
from tests.school.owed import OwedSchool

pytestmark = pytest.mark.django_db

NOW = at("2027-01-20T09:00Z")


# How SQLite plans is asked; PostgreSQL counts nulls apart and joins by the index.
@pytest.mark.one_database
def test_no_owed_lesson_is_sought_among_all_others() -> None:
    """With what SQLite knows of the rows: an index whose values are mostly null is none to it."""
    school = OwedSchool()
    OwedLesson.objects.bulk_create(
        OwedLesson(
            student=school.marlo,
            term=school.term,
            offering=school.lesson,
            minutes=school.lesson.minutes,
            cause="carried-in",
            reason="Paid for last year.",
            use_by=date(2027, 4, 9),
            owed_at=NOW,
        )
        for _ in range(300)
    )
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
        with CaptureQueriesContext(connection) as seen:
            found = account_in(school.marlo, school.term, now=NOW)
        plans = []
        for query in list(seen.captured_queries):
            cursor.execute(f"EXPLAIN QUERY PLAN {query['sql']}")
            plans += [step for *_, step in cursor.fetchall()]
    assert sum(chain.root is Root.CARRIED_IN for chain in found.account.chains) == 300
    assert any("bookings_owedlesson" in step for step in plans)
    # Django calls a table that it joins once more T6 or the like.
    assert [step for step in plans if re.match(r"SCAN (T\d+|bookings_owedlesson)\b", step)] == []


def test_a_lesson_that_was_carried_out_says_to_which_term() -> None:
    """The line of the account names the other term."""
    school = OwedSchool()
    school.call_off(school.lesson_on(date(2027, 1, 19)))
    summer = Term.objects.create(
        name="Summer 2027",
        first_on=date(2027, 4, 19),
        last_on=date(2027, 7, 9),
        lessons_promised=12,
    )
    (owed,) = school.owed()
    carry_out(
        actor=school.dag,
        owed=owed,
        term=summer,
        use_by=date(2027, 6, 1),
        reason="As agreed.",
        now=NOW,
    )
    found = account_in(school.marlo, school.term, now=NOW)
    assert found.carried_to == {owed.pk: summer}
    said = [line.sentences for part in parts_of(found) for line in part.lines]
    assert any("Carried to Summer 2027" in sentence for one in said for sentence in one)
