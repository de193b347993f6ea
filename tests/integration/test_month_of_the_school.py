"""A whole month of the demo school, played at random: afterwards the books add up."""

import pytest

from bookings import tasks
from bookings.demo import school
from bookings.queries.accounts import accounts_in
from bookings.queries.places_audit import findings
from tests import profiles
from tests.races.simulation.books_invariants import check_statement
from tests.school.month import FIRST, Month

DAYS = 31
SHORT = [7, 11]
"""Seeds that play every act."""
SEEDS = range(20) if profiles.NAME == "long" else SHORT


@pytest.mark.heavy
@pytest.mark.django_db
@pytest.mark.parametrize("seed", SEEDS)
def test_after_a_month_every_account_and_statement_adds_up(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Families book, cancel, move and make up; instructors are ill; registers are marked, late and
    wrongly. What is printed tells the seed and what was done.
    """
    school.load(now=FIRST)
    month = Month(seed)
    monkeypatch.setattr("bookings.clock.now", lambda: month.now)
    month.begin()
    for number in range(DAYS):
        month.day(number)
        tasks.enqueue_due()
    statements = month.close(DAYS)
    print(f"seed {seed}:", dict(month.done))
    for statement in statements:
        check_statement(statement)
    for found in accounts_in(month.term, month.students, now=month.now):
        assert found.account.adds_up, found.student
    assert [row.line() for row in findings()] == []
    if seed in SHORT:
        acts = ("weekly place", "make_up", "ill", "correction")
        assert all(month.done[act] for act in acts), month.done
