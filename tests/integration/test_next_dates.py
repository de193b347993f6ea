"""The next date agreed at the end of a lesson: suggested, then booked or proposed."""

from datetime import timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Booking, ProposedTimes
from bookings.operations.next_dates import agree_next_date
from bookings.queries.next_dates import next_dates
from tests.cast import NOW
from tests.school.proposals import STARTS, ProposingSchool

pytestmark = pytest.mark.django_db


@pytest.fixture
def school():
    """Ilse has taught Noor."""
    return ProposingSchool()


def suggested(school, around):
    """The starts suggested around an instant."""
    found = next_dates(
        student=school.noor,
        offering=school.consultation,
        instructor=school.ilse,
        around=around,
        now=NOW,
    )
    return [slot.starts_at for slot in found.slots]


def agree(school, starts, *, proposes):
    return write(
        lambda: agree_next_date(
            actor=school.ilse.user,
            student=school.noor,
            offering=school.consultation,
            instructor=school.ilse,
            starts=starts,
            proposes=proposes,
            now=NOW,
        ),
        now=NOW,
    )


def test_a_follow_up_in_four_weeks_suggests_three_days_around_it(school):
    """Source: a follow-up of four weeks falls within 25 to 31 days (the acceptance scenario of a
    consultation that ends with "4 weeks").
    """
    starts = suggested(school, NOW + timedelta(weeks=4))
    assert len(starts) == 3
    assert len({start.date() for start in starts}) == 3
    assert all(timedelta(days=25) <= start - NOW <= timedelta(days=31) for start in starts)


def test_a_date_near_now_suggests_nothing_past(school):
    """No lead time binds the school, and nothing begins before now."""
    starts = suggested(school, NOW)
    assert starts
    assert min(starts) >= NOW


def test_suggested_starts_can_be_booked_or_proposed(school):
    """What is suggested, the operation takes as it is."""
    starts = suggested(school, NOW + timedelta(weeks=2))
    assert isinstance(agree(school, starts[:1], proposes=False), Booking)
    proposal = agree(school, starts[1:], proposes=True)
    assert isinstance(proposal, ProposedTimes)
    assert [time.starts_at for time in proposal.times.all()] == starts[1:]


@pytest.mark.parametrize("count", [0, 2])
def test_one_date_is_booked_at_a_time(school, count):
    """Several are proposed."""
    with pytest.raises(Refused, match="Choose one time"):
        agree(school, STARTS[:count], proposes=False)
    assert not ProposedTimes.objects.exists()
