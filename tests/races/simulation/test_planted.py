"""Faults planted in proposed times, in pairs of lessons and in barring, which the simulation must
find.
"""

from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager
from datetime import UTC, datetime, timedelta
from typing import Any
from unittest import mock

import pytest

from bookings.models import Booking, Meeting, ProposedTimes
from bookings.operations import barring, calling_off, moving, proposed_times, taking_times
from tests import cast
from tests.races.simulation import account_invariants, family_invariants, invariants
from tests.races.simulation.acts import Acts
from tests.races.simulation.school import School

pytestmark = pytest.mark.django_db
STARTS = [datetime(2027, 3, 17, hour, tzinfo=UTC) for hour in (10, 12, 14)]


def others_stay_open() -> AbstractContextManager[object]:
    """Taking one of the times ends the proposal, and not the other times."""

    def end(proposal: ProposedTimes, *, why: str, now: datetime, **_: object) -> None:
        proposal.ended_at, proposal.ended_why = now, why
        proposal.version += 1
        proposal.save()

    return mock.patch.object(taking_times, "end_proposal", end)


def lapsed_is_taken() -> AbstractContextManager[object]:
    """The time to answer is not looked at."""

    def lock(proposal: ProposedTimes, *, now: datetime, **_: object) -> ProposedTimes:
        return real(proposal, version=None, now=min(now, proposal.made_at))

    real = proposed_times.lock_proposal
    return mock.patch.object(taking_times, "lock_proposal", lock)


@pytest.fixture
def acts() -> Iterator[Acts]:
    """Times are proposed to an adult."""
    school = School()
    with school.one_run():
        acts = Acts(school, cast.NOW + timedelta(days=11))
        assert acts.propose(1, 0, "lesson", STARTS) == ""
        yield acts


def test_without_a_fault_one_time_is_taken_and_lapsed_ones_are_not(acts: Acts) -> None:
    """What the planted faults are compared with: model, product and rows agree."""
    assert acts.propose(4, 1, "lesson", [STARTS[2] + timedelta(hours=3)]) == ""
    assert acts.take_time(0) == ""
    assert acts.take_time(1) == "offer-ended"
    acts.now += timedelta(days=5)
    assert acts.take_time(3) == "offer-ended"
    invariants.check_rows()
    invariants.check_proposal_emails()


def test_times_that_stay_open_beside_a_lesson_are_found(acts: Acts) -> None:
    """The rows read otherwise than the model's."""
    with others_stay_open(), pytest.raises(AssertionError, match="the model"):
        acts.take_time(0)


def test_the_rows_alone_show_times_that_stay_open(acts: Acts) -> None:
    """No model is needed: open times belong to a proposal that has ended."""
    with others_stay_open(), pytest.raises(AssertionError):
        acts.take_time(0)
    with pytest.raises(AssertionError, match="hold times"):
        invariants.check_rows()


def test_a_lapsed_time_that_is_taken_is_found(acts: Acts) -> None:
    """The model refuses what the product does."""
    acts.now += timedelta(days=3)
    with lapsed_is_taken(), pytest.raises(AssertionError, match="'offer-ended', the product 'yes'"):
        acts.take_time(0)


def test_an_email_that_still_waits_for_a_barred_guardian_is_found(acts: Acts) -> None:
    """A child of two guardians has a lesson ahead; one is barred and not cut off."""
    assert acts.book_by_school(8, 0, "lesson", STARTS[0] + timedelta(days=1)) == ""
    with mock.patch.object(barring, "_cut_off"):
        assert acts.bar(8, 0) == ""
    with pytest.raises(AssertionError, match="is barred and is told"):
        family_invariants.check_barred(acts)


def test_a_barred_guardian_hears_no_more(acts: Acts) -> None:
    """The same without a fault; the last guardian is never barred."""
    assert acts.book_by_school(8, 0, "lesson", STARTS[0] + timedelta(days=1)) == ""
    assert acts.bar(8, 0) == ""
    assert acts.bar(8, 1) == "last-guardian"
    family_invariants.check_barred(acts)


def test_a_promise_that_is_lost_with_a_called_off_lesson_is_found(acts: Acts) -> None:
    """What is owed is written where a lesson is called off; without it nobody answers for it."""
    assert acts.take_weekly(0, 0, 1, 16 * 60) == ""
    account_invariants.check_accounts(acts)
    lesson = next(row.meeting for row in reversed(acts.desk.bookings) if row.student == 0)
    with mock.patch.object(calling_off, "owe_for", return_value=None):
        assert acts.call_off(lesson) == ""
    with pytest.raises(AssertionError, match="lessons are"):
        account_invariants.check_accounts(acts)


def half_moved() -> AbstractContextManager[object]:
    """The second of two lessons that move together stays where it is."""

    def move(lesson: Booking, *said: Any, free: Sequence[Meeting] = (), **more: Any) -> None:
        if free:
            real(lesson, *said, free=free, **more)

    real = moving.move_lesson
    return mock.patch.object(moving, "move_lesson", move)


@pytest.fixture
def pair(acts: Acts) -> Acts:
    """The brother's lesson, and the sister's right after it: bookings 3 and 4."""
    start = STARTS[0] + timedelta(days=1)
    for child, starts in ((8, start), (9, start + timedelta(minutes=30))):
        assert acts.book_slot(child, 0, "consultation", starts) == ""
    return acts


def test_without_a_fault_a_pair_moves_or_neither_does(pair: Acts) -> None:
    """Half an hour on, into each other's times; not where an adult has the sister's new time."""
    start = STARTS[0] + timedelta(days=1, minutes=30)
    assert pair.move_pair(3, 4, 0, start) == ""
    assert pair.book_slot(0, 0, "consultation", start + timedelta(hours=5)) == ""
    assert pair.move_pair(3, 4, 0, start + timedelta(hours=4, minutes=30)) == "taken"
    assert pair.move_slot(4, 0, start + timedelta(hours=2)) == ""
    assert pair.move_pair(3, 4, 0, start + timedelta(hours=8)) == "conflict"


def test_a_pair_of_which_one_stays_is_found(pair: Acts) -> None:
    """The rows read otherwise than the model's."""
    with half_moved(), pytest.raises(AssertionError, match="the model"):
        pair.move_pair(3, 4, 0, STARTS[0] + timedelta(days=1, hours=2))


def test_a_pair_that_moves_though_it_is_none_is_found(pair: Acts) -> None:
    """Two lessons with hours between them, of which nobody looked whether they are a pair."""
    assert pair.move_slot(4, 0, STARTS[0] + timedelta(days=1, hours=3)) == ""
    with (
        mock.patch.object(moving, "_check_is_pair"),
        pytest.raises(AssertionError, match="'conflict', the product 'yes'"),
    ):
        pair.move_pair(3, 4, 0, STARTS[0] + timedelta(days=1, hours=1))
