"""Emails ahead of a shift: lessons at another hour of the reader's clock than usual."""

from datetime import datetime, timedelta

from accounts.models import User
from bookings.domain.policy import quiet_until
from bookings.domain.terms import ShiftRun, shift_runs
from bookings.domain.zones import place as place_of
from bookings.models import OutboxMessage, WeeklyPlace
from bookings.notices.people import hears_from, names, of_age_later
from bookings.notices.rows import row
from bookings.notices.weekly_places import Taken, clock_time, day_and_month, what_it_is
from bookings.notices.wording import email_text
from bookings.outbox import MessageKind

TOLD_AHEAD = timedelta(days=7)
"""How long before the first lesson at another hour its family gets an email."""


def shifts_ahead(
    taken: Taken, reader: User, now: datetime, *, told_on: str = "", rules: str = ""
) -> list[OutboxMessage]:
    """One email for each run of shifts that begins more than a week ahead.

    A child with an account gets those that are due once the child is of age. `told_on` is the zone
    of the reader's older emails; empty for the same zone. `rules` is the version of new zone rules,
    which tells these emails from older ones.
    """
    readers = dict.fromkeys([*of_age_later([taken.place], now), reader])
    return [
        message
        for one in readers
        for message in _shifts_to(taken, one, now, told_on=told_on, rules=rules)
    ]


def _shifts_to(
    taken: Taken, reader: User, now: datetime, *, told_on: str, rules: str
) -> list[OutboxMessage]:
    messages = []
    since = hears_from(reader, [taken.place], now) or now
    meetings = {booking.starts_at: booking.meeting for booking in taken.bookings}
    lesson = what_it_is(taken.place, named=True)
    for run in shift_runs(list(meetings), reader.zone):
        starts_at = run.shifts[0].starts_at
        told_at = starts_at - TOLD_AHEAD
        if told_on:
            told_at = quiet_until(told_at, told_on)
        if told_at <= now:
            continue  # the email about the place itself names this shift
        due_at = quiet_until(max(starts_at - TOLD_AHEAD, since), reader.zone)
        if due_at >= starts_at:
            continue
        said = shift_in_words(run, reader, taken)
        messages.append(
            row(
                reader,
                MessageKind.SHIFT,
                f"weekly-place:{taken.place.pk}",
                f"from:{starts_at:%Y%m%d}{rules and f':{rules}'}",
                title=f"New local time from {day_and_month(run.shifts[0].on)}: {lesson}",
                body=email_text(reader.name, [said, why_shifted(taken.place, reader)]),
                now=now,
                meeting=meetings[starts_at],
                due_at=due_at,
                good_until=starts_at,
            )
        )
    return messages


def shift_in_words(run: ShiftRun, reader: User, taken: Taken) -> str:
    """ "From 14 March Kit’s lesson starts at 15:00, not 16:00, in Oslo, until 28 March; ..."."""
    first, *more = run.shifts
    (person,) = names(reader, [taken.place])
    lesson = "your lesson" if person == "you" else f"{person}’s lesson"
    here = place_of(reader.zone)
    hours = f"{first.after}, not {run.usual}"
    said = f"From {day_and_month(first.on)} {lesson} starts at {hours}, in {here}"
    said += "".join(f", from {day_and_month(shift.on)} at {shift.after}" for shift in more)
    if run.back is None:
        return f"{said}, until the end of the term on {day_and_month(run.last_on)}."
    back = f"from {day_and_month(run.back.on)} it starts at {run.back.after} again"
    return f"{said}, until {day_and_month(run.last_on)}; {back}."


def why_shifted(place: WeeklyPlace, reader: User) -> str:
    """The sentence about the two zones, whose clocks change on different dates."""
    there, here = place_of(place.zone), place_of(reader.zone)
    return (
        f"It stays at {clock_time(place)} in {there}; "
        f"the clocks there and in {here} do not change on the same dates."
    )
