"""Which starts a list has, by what their hours cost the student: night last, never left out."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.burden import HARD
from bookings.domain.hours import TeachingTime, WeeklyWindow
from bookings.domain.policy import Policy
from bookings.domain.slots import SlotRequest, check_start, find_slots
from bookings.domain.start_costs import Listing
from bookings.domain.student_hours import SaidHours, WishedWindow
from bookings.domain.suiting import best
from bookings.domain.terms import TermDates
from bookings.domain.vocabulary import Night, Wish
from bookings.domain.weekly import WeeklyRequest, WeeklyTime, judge_weekly
from bookings.domain.weekly_costs import NEVER
from bookings.domain.weekly_options import weekly_options
from bookings.domain.zones import zone
from tests.unit.brute_costs import cost_of
from tests.unit.said_weeks import weeks
from tests.unit.slot_people import ILSE, LESSON, NOOR, NOW

POLICY = Policy()
DAY_AND_NIGHT = TeachingTime(
    tuple(WeeklyWindow(weekday, 0, 1440, "Europe/Dublin") for weekday in range(7))
)
ALWAYS = replace(ILSE, teaching=DAY_AND_NIGHT)
POSY = replace(NOOR, time_zone="Australia/Sydney", adult_on=date(2034, 6, 1))
UNTIL = NOW + timedelta(days=3)


def asked(**more: object) -> SlotRequest:
    return SlotRequest(LESSON, NOW, UNTIL, **more)


def saying(*windows: tuple[int, int, int, Wish]) -> SaidHours:
    """Windows of (weekday, first hour, past hour, wish)."""
    return SaidHours(tuple(WishedWindow(day, o * 60, c * 60, wish) for day, o, c, wish in windows))


def every_day(opens: int, closes: int, wish: Wish) -> list[tuple[int, int, int, Wish]]:
    return [(day, opens, closes, wish) for day in range(7)]


@given(week=weeks(), night=st.sampled_from(Night), limit=st.sampled_from((None, 1, 7)))
def test_a_list_has_the_starts_that_the_slow_way_leaves_in_it(week, night, limit):
    """Costs, what becomes of night, and the limit, against minutes counted one by one."""
    student = replace(NOOR, said=week)
    everything = find_slots(asked(listing=Listing(with_never=True)), [ALWAYS], student, POLICY, NOW)
    costs = {slot.starts_at: cost_of(slot, NOOR.time_zone, None, week) for slot in everything}
    assert all(slot.burden == costs[slot.starts_at] for slot in everything)
    offered = [slot.starts_at for slot in everything if slot.burden != NEVER]
    humane = [starts_at for starts_at in offered if costs[starts_at] < HARD]
    expected = {
        Night.INCLUDED: offered,
        Night.LEFT_OUT: humane,
        Night.LAST: humane or offered,
    }[night]
    found = find_slots(asked(listing=Listing(night), limit=limit), [ALWAYS], student, POLICY, NOW)
    assert [slot.starts_at for slot in found] == expected[:limit]


@given(week=weeks())
def test_a_minor_s_night_stays_shut_whatever_is_said(week):
    """Law: 08:00 to 21:00 on their own clock, the end included."""
    student = replace(POSY, said=week)
    for slot in find_slots(asked(listing=Listing(with_never=True)), [ALWAYS], student, POLICY, NOW):
        begins, ends = (
            at.astimezone(zone(POSY.time_zone)) for at in (slot.starts_at, slot.ends_at)
        )
        assert begins.hour >= 8
        assert (ends.hour, ends.minute) <= (21, 0)


def test_gladly_at_night_opens_no_night_for_a_minor() -> None:
    """And the curve still counts beside the word: 08:00 costs 1."""
    student = replace(POSY, said=saying(*every_day(0, 24, Wish.GLADLY)))
    found = find_slots(asked(), [ALWAYS], student, POLICY, NOW)
    hours = {slot.starts_at.astimezone(zone(POSY.time_zone)).hour: slot.burden for slot in found}
    assert (min(hours), max(hours), hours[8], hours[12]) == (8, 20, 1, 0)


def test_a_start_that_is_never_offered_is_refused_nowhere() -> None:
    """`check_start` lets it through, and a list that asks for it has it."""
    student = replace(NOOR, said=saying(*every_day(0, 24, Wish.NEVER)))
    assert find_slots(asked(), [ALWAYS], student, POLICY, NOW) == []
    starts_at = NOW + timedelta(days=1)
    check_start(starts_at, LESSON, ALWAYS, student, POLICY, NOW)
    listed = find_slots(asked(listing=Listing(with_never=True)), [ALWAYS], student, POLICY, NOW)
    assert starts_at in [slot.starts_at for slot in listed]


def test_the_starts_nearest_to_another_are_at_a_hard_hour_only_if_all_are() -> None:
    """02:00 in New York; the nearest humane starts are 21:30, and then 21:00 and 07:00."""
    two = datetime(2027, 3, 2, 7, 0, tzinfo=UTC)
    near = asked(nearest_to=two, limit=3, listing=Listing(Night.LAST))
    local = [
        slot.starts_at.astimezone(zone(NOOR.time_zone)).hour
        for slot in find_slots(near, [ALWAYS], NOOR, POLICY, NOW)
    ]
    assert local == [21, 21, 7]
    nothing_else = replace(NOOR, said=saying(*every_day(0, 24, Wish.LAST)))
    found = find_slots(near, [ALWAYS], nothing_else, POLICY, NOW)
    assert {slot.burden for slot in found} == {HARD}
    assert two in [slot.starts_at for slot in found]


def test_the_family_s_word_for_an_hour_is_the_reason_told() -> None:
    """It stands where the sentence of the curve stood."""
    student = replace(NOOR, said=saying(*every_day(0, 24, Wish.POSSIBLE)))
    found = find_slots(asked(), [ALWAYS], student, POLICY, NOW)
    assert {slot.reasons[0] for slot in found} == {"An hour marked “possible”."}


def test_an_instructor_s_list_tells_nothing_of_what_a_family_says() -> None:
    """Starts at hours marked “never” are left out; the others weigh as if nothing were said."""
    plain = find_slots(asked(), [ALWAYS], NOOR, POLICY, NOW)
    week = saying(*every_day(9, 12, Wish.LAST), *every_day(13, 15, Wish.NEVER))
    student = replace(NOOR, said=week)
    theirs = find_slots(
        asked(listing=Listing(is_for_instructor=True)), [ALWAYS], student, POLICY, NOW
    )
    listed = {slot.starts_at for slot in theirs}
    assert theirs == [slot for slot in plain if slot.starts_at in listed]
    assert 0 < len(theirs) < len(plain)


def test_the_best_are_never_at_an_hour_given_only_if_nothing_else() -> None:
    """Early and late hours of less burden come before it."""
    student = replace(NOOR, said=saying(*every_day(9, 20, Wish.LAST)))
    found = find_slots(asked(), [ALWAYS], student, POLICY, NOW)
    assert all(slot.burden < HARD for slot in best(found, NOOR.time_zone))


def test_a_weekly_time_with_an_hour_marked_never_is_not_listed_and_can_be_judged() -> None:
    """Dublin 16:00 is New York 11:00, and 12:00 from 14 to 27 March (tz data 2026f)."""
    term = TermDates(date(2027, 3, 3), date(2027, 4, 7))
    request = WeeklyRequest(term, LESSON)
    four = WeeklyTime(2, 960)
    noon = replace(NOOR, said=saying((2, 12, 13, Wish.NEVER)))
    times = [option.at for option in weekly_options(request, [ALWAYS], noon, POLICY, NOW)]
    assert four not in times
    assert WeeklyTime(2, 1080) in times
    judged = judge_weekly(request, four, ALWAYS, noon, POLICY, NOW)
    assert (judged.failed, judged.worst.cost) == ((), NEVER)
    assert judged.worst.words == "An hour marked “never”."


@pytest.mark.parametrize("zone_of_student", ["Europe/Dublin", "Asia/Kathmandu"])
def test_windows_on_both_sides_of_midnight_are_one_stretch(zone_of_student: str) -> None:
    """A lesson at midnight lies in both and costs what both say."""
    week = saying((1, 22, 24, Wish.GLADLY), (2, 0, 2, Wish.GLADLY))
    student = replace(NOOR, time_zone=zone_of_student, said=week)
    found = find_slots(asked(), [ALWAYS], student, POLICY, NOW)
    clock = zone(zone_of_student)
    at_midnight = [
        slot.burden
        for slot in found
        if slot.starts_at.astimezone(clock).strftime("%a %H") in ("Tue 23", "Wed 00")
    ]
    assert at_midnight
    assert set(at_midnight) == {0}
