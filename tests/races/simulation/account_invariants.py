"""Every promised lesson is counted once, whatever happened to it."""

from bookings.queries.accounts import accounts_in
from bookings.queries.owed_audit import owed_lessons_agree, promises_are_kept
from tests.races.simulation.acts import Acts


def check_accounts(acts: Acts) -> None:
    """The account of every student adds up, and what is owed follows from its lesson."""
    for found in accounts_in(acts.school.term, acts.school.students, now=acts.now):
        account = found.account
        begun = account.promised + account.carried_in + account.extra
        counted = dict(account.counts)
        assert begun == sum(counted.values()), f"{found.student}: {begun} lessons are {counted}"
    wrong = [row.line() for row in (*promises_are_kept(), *owed_lessons_agree())]
    assert not wrong, wrong
