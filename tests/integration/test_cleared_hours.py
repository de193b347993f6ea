"""Hours that an instructor has cleared are offered to nobody until they are opened again."""

from datetime import date, timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.proposals import Proposal
from bookings.domain.timeline import Period
from bookings.door import write
from bookings.models import DaysAway, Meeting
from bookings.operations.booking import book_slot
from bookings.operations.days_away import come_back
from bookings.operations.hours import adopt_hours
from bookings.queries.slots import slots_for
from bookings.queries.teaching import week_of
from tests.integration.cleared import SEVEN, clear
from tests.school.covering import DAY, CoveringSchool

pytestmark = pytest.mark.django_db

AFTERNOON = Period(DAY + timedelta(hours=13), DAY + timedelta(hours=15))


@pytest.fixture
def school() -> CoveringSchool:
    return CoveringSchool()


def starts(school: CoveringSchool) -> list[float]:
    """The hours of the day at which a consultation with Ilse is offered to Noor."""
    found = slots_for(
        offering=school.offering,
        student=school.noor,
        instructor_id=school.ilse.pk,
        since=DAY,
        until=DAY + timedelta(days=1),
        now=SEVEN - timedelta(days=2),
    )
    return [(slot.starts_at - DAY) / timedelta(hours=1) for slot in found.slots]


def test_cleared_hours_are_not_offered_and_cannot_be_booked(school) -> None:
    """Lists leave them out, and a booking is refused; the hours around them stay open."""
    before = starts(school)
    clear(school, stretch=AFTERNOON)
    assert starts(school) == [hour for hour in before if not 12.5 < hour < 15]
    with pytest.raises(Refused) as caught:
        write(
            lambda: book_slot(
                actor=school.noor.user,
                student=school.noor,
                offering=school.offering,
                instructor=school.ilse,
                starts_at=DAY + timedelta(hours=14),
                now=SEVEN - timedelta(days=1),
            ),
            now=SEVEN,
        )
    assert caught.value.code == "outside-hours"


def test_cleared_hours_are_opened_again(school) -> None:
    """With them the meetings that were called off are named, to be reinstated."""
    before = starts(school)
    lesson = school.book(school.noor, 14)
    clear(school, lesson, stretch=AFTERNOON)
    away = DaysAway.objects.get()
    came = write(lambda: come_back(actor=school.ilse.user, away=away, now=SEVEN), now=SEVEN)
    assert [meeting.pk for meeting in came.called_off] == [lesson.meeting_id]
    assert (starts(school), DaysAway.objects.count()) == (before, 0)


def test_the_same_hours_a_second_time_change_nothing(school) -> None:
    """A whole day so cleared is a day away like any other."""
    clear(school, stretch=AFTERNOON)
    version = week_of(school.ilse).version
    clear(school, stretch=AFTERNOON)
    assert (week_of(school.ilse).version, DaysAway.objects.count()) == (version, 1)
    clear(school)
    assert [row.is_whole_days for row in DaysAway.objects.order_by("pk")] == [False, True]
    assert not Meeting.objects.exists()


def test_hours_from_a_file_leave_cleared_hours_closed(school) -> None:
    """A file of hours cannot say them, so it does not open them either."""
    clear(school, stretch=AFTERNOON)
    week = ((4, 480, 1080),)
    proposed = Proposal("Europe/Dublin", week, (), ((date(2027, 3, 19), date(2027, 3, 19)),), ())
    write(
        lambda: adopt_hours(
            actor=school.ilse.user, instructor=school.ilse, proposal=proposed, now=SEVEN
        ),
        now=SEVEN,
    )
    assert [row.is_whole_days for row in DaysAway.objects.order_by("first_on")] == [False, True]
