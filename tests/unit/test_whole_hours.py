"""Hours kept whole: what the lists leave out, and what they never do."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from bookings.domain.hours import DatedWindow, TeachingTime, WeeklyWindow
from bookings.domain.policy import Policy
from bookings.domain.slots import (
    InstructorTime,
    OfferingRules,
    Slot,
    SlotRequest,
    StudentTime,
    check_start,
    find_slots,
)
from bookings.domain.vocabulary import Grid
from tests.unit.times import situations

NOW = datetime(2027, 2, 26, 9, tzinfo=UTC)
MONDAY = datetime(2027, 3, 1, tzinfo=UTC)
LESSON = OfferingRules(45, 10, Grid.WINDOW, 55)
NOOR = StudentTime(1, "Europe/Dublin")


def ilse(*days: int) -> InstructorTime:
    """Ilse, who keeps hours whole and teaches 15:30-20:30 on these weekdays.

    Each day has five starts; 17:20 in the middle costs a lesson and no other does.
    """
    hours = tuple(WeeklyWindow(day, 15 * 60 + 30, 20 * 60 + 30, "Europe/Dublin") for day in days)
    return InstructorTime(1, "Europe/Dublin", TeachingTime(hours), keeps_hours_whole=True)


def listed(who: InstructorTime, day: int, student: StudentTime = NOOR, **asked) -> list[str]:
    """The starts listed for one day after Monday, on Dublin's clock, which is that of UTC."""
    since = MONDAY + timedelta(days=day)
    request = SlotRequest(LESSON, since, since + timedelta(days=1), **asked)
    found = find_slots(request, [who], student, Policy(), NOW)
    return [f"{slot.starts_at:%H:%M}" for slot in found]


WHOLE = ["15:30", "16:25", "18:15", "19:10"]
EVERY = ["15:30", "16:25", "17:20", "18:15", "19:10"]


def test_a_start_that_costs_a_lesson_is_left_out_while_the_week_has_six_others():
    """Four others on the same day are too few; with four on Friday, the week has eight."""
    assert listed(ilse(0), 0) == EVERY
    assert listed(ilse(0, 4), 0) == WHOLE
    assert listed(replace(ilse(0, 4), keeps_hours_whole=False), 0) == EVERY


def test_the_week_is_the_instructors_own_from_monday():
    """Saturday's and Sunday's starts lie in one week, Sunday's and Monday's in two."""

    def on(*days: int) -> InstructorTime:
        dates = ((MONDAY + timedelta(days=day)).date() for day in days)
        extra = tuple(DatedWindow(date, 930, 1230, "Europe/Dublin") for date in dates)
        return replace(ilse(), teaching=TeachingTime(extra=extra))

    assert listed(on(6, 7), 6) == listed(on(6, 7), 7) == EVERY
    assert listed(on(5, 6), 6) == WHOLE


def test_others_at_a_harder_hour_do_not_count():
    """Four easy starts on Monday and a night of seven hours on Friday are no six others: 17:20
    stays. For a student in Kolkata the hours of that night are easy ones, and it goes.
    """
    night = WeeklyWindow(4, 0, 7 * 60, "Europe/Dublin")
    mixed = replace(ilse(0), teaching=TeachingTime((*ilse(0).teaching.weekly, night)))
    assert listed(mixed, 0) == EVERY
    assert listed(mixed, 0, StudentTime(1, "Asia/Kolkata")) == WHOLE


def test_only_the_hours_asked_for_count():
    """A family that can come only then sees the start: there are no six others to choose from."""
    assert listed(ilse(0, 4), 0, earliest=17 * 60, latest=18 * 60 + 10) == ["17:20"]


def test_such_a_start_can_still_be_asked_for_and_booked():
    """Nothing is refused for it: only lists leave it out."""
    assert listed(ilse(0, 4), 0, every=True) == EVERY
    start = MONDAY + timedelta(hours=17, minutes=20)
    check_start(start, LESSON, ilse(0, 4), NOOR, Policy(), NOW)


@settings(deadline=None)
@given(situations(), st.integers(0, 2880), st.integers(5, 600))
def test_what_is_left_out_does_not_depend_on_the_stretch_searched(case, later, minutes):
    """What a search of two days lists, one of minutes lists too; what is left out costs a lesson
    and never leaves fewer than six.
    """
    offering, instructor, student, policy, now, since, until = case
    keeping = replace(instructor, keeps_hours_whole=True)

    def slots(who: InstructorTime, first: datetime, past: datetime) -> list[Slot]:
        return find_slots(SlotRequest(offering, first, past), [who], student, policy, now)

    whole, every = slots(keeping, since, until), slots(instructor, since, until)
    first = since + timedelta(minutes=later)
    past = min(first + timedelta(minutes=minutes), until)
    if first < past:
        assert slots(keeping, first, past) == [
            slot for slot in whole if first <= slot.starts_at < past
        ]
    gone = [slot for slot in every if slot not in whole]
    assert all(slot.lost for slot in gone)
    assert [slot for slot in every if slot not in gone] == whole
