"""A refusal that leaves no row behind."""

import pytest

from bookings.domain.errors import Refused
from bookings.models import AuditRow, Booking, Meeting, OutboxMessage
from tests.school.consultations import School


@pytest.fixture
def school() -> School:
    return School()


def refused(code, act):
    before = (
        Meeting.objects.count(),
        Booking.objects.count(),
        OutboxMessage.objects.count(),
        AuditRow.objects.count(),
    )
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code
    assert before == (
        Meeting.objects.count(),
        Booking.objects.count(),
        OutboxMessage.objects.count(),
        AuditRow.objects.count(),
    )
    return caught.value
