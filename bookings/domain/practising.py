"""A day of practice: the order of the items, where to rest, and the days that may be ticked."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from bookings.domain.errors import Refused
from bookings.domain.owed import date_in_words
from bookings.domain.practice import REST_AFTER, PracticeItem

DAYS_SHOWN = 14
"""How many days, today among them, an instructor and the family look back on."""


@dataclass(frozen=True, slots=True)
class Step:
    """One item of a day. `item` is its place in the plan, 0 for the first.

    `rests_first` says to rest before it.
    """

    item: int
    what: str
    minutes: int
    is_review: bool
    rests_first: bool


def steps_of(items: Sequence[PracticeItem]) -> list[Step]:
    """The items in the order of a day: older pieces last, and a rest before an item that would make
    more than 25 minutes in a row.
    """
    steps, in_a_row = [], 0
    for item, said in sorted(enumerate(items), key=lambda pair: pair[1].is_review):
        rests_first = in_a_row > 0 and in_a_row + said.minutes > REST_AFTER
        in_a_row = said.minutes if rests_first else in_a_row + said.minutes
        steps.append(Step(item, said.what, said.minutes, said.is_review, rests_first))
    return steps


def tickable_days(*, given_on: date, today: date) -> list[date]:
    """Today and yesterday, the latest first, without a day before the plan was given."""
    return [on for on in (today, today - timedelta(days=1)) if on >= given_on]


def check_day(on: date, *, given_on: date, today: date) -> None:
    """Refused("past") for a day before yesterday or before the plan was given, "not-yet" for one
    after today.
    """
    if on > today:
        raise Refused("not-yet", "This day has not come yet. Tick it when you have practised.")
    if on < today - timedelta(days=1):
        raise Refused("past", "Only today and yesterday can be ticked.")
    if on not in tickable_days(given_on=given_on, today=today):
        given = date_in_words(given_on)
        raise Refused(
            "past", f"This plan was given on {given}. Only days since then can be ticked."
        )


@dataclass(frozen=True, slots=True)
class PracticeDay:
    """The minutes that were ticked for one day on the student's clock."""

    on: date
    minutes: int


@dataclass(frozen=True, slots=True)
class Practised:
    """The last 14 days, today last."""

    days: list[PracticeDay]

    @property
    def count(self) -> int:
        """The number of days with at least one tick."""
        return sum(day.minutes > 0 for day in self.days)

    @property
    def most(self) -> int:
        """The minutes of the longest day."""
        return max(day.minutes for day in self.days)


def days_shown(today: date) -> list[date]:
    """The 14 days up to today, the earliest first."""
    return [today - timedelta(days=back) for back in reversed(range(DAYS_SHOWN))]


def practised_by(minutes: Mapping[date, int], *, today: date) -> Practised:
    """The last 14 days, from the minutes ticked a day."""
    return Practised([PracticeDay(on, minutes.get(on, 0)) for on in days_shown(today)])
