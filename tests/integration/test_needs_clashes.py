"""Needs you now: meetings that clash with imported busy time, wherever it lies in its calendar."""

from datetime import timedelta

import pytest

from bookings.domain.needs import Need
from bookings.domain.timeline import Period
from bookings.models import BusyCalendar
from tests import cast
from tests.cast import NOW
from tests.school.desk import Desk

pytestmark = pytest.mark.django_db

SOON = NOW + timedelta(hours=5)
HOUR = timedelta(hours=1)


@pytest.fixture
def desk() -> Desk:
    return Desk()


@pytest.mark.parametrize("since", range(-40, 41, 20))
@pytest.mark.parametrize("minutes", [15, 45])
def test_a_clash_is_found_between_other_busy_time(desk: Desk, since: int, minutes: int) -> None:
    """Whatever lies before and after it, in the same calendar and in another of the instructor."""
    meeting = cast.make_meeting(desk.lesson, desk.ilse, SOON)
    free, full = (
        BusyCalendar.objects.create(owner=desk.ilse.user, name=name, added_at=NOW)
        for name in ("Family", "Orchestra")
    )
    for calendar in (free, full):
        calendar.periods.create(starts_at=NOW, ends_at=NOW + HOUR)
        calendar.periods.create(starts_at=SOON + 2 * HOUR, ends_at=SOON + 3 * HOUR)
    begins = SOON + timedelta(minutes=since)
    busy = Period(begins, begins + timedelta(minutes=minutes))
    full.periods.create(starts_at=busy.starts_at, ends_at=busy.ends_at)
    clashes = busy.overlaps(Period(meeting.starts_at, meeting.ends_at))
    assert (desk.now(Need.CLASH) is not None) == clashes
