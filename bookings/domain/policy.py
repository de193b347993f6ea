"""The booking rules, one place for each. `now` and every instant are aware UTC."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings.domain.errors import Refused
from bookings.domain.hours import WEEKDAYS, TeachingTime, WeeklyWindow, teachable
from bookings.domain.instants import instants
from bookings.domain.timeline import CELL, EPOCH, Horizon, Period, in_utc, rfc3339
from bookings.domain.wall import clock, spoken
from bookings.domain.zones import zone

SHORT_MEETING_MINUTES = 30
QUIET_FROM, QUIET_TO = 22 * 60, 8 * 60  # minutes of the reader's day
OFFER_LIFE = timedelta(hours=24)
OFFER_MARGIN = timedelta(hours=4)


@dataclass(frozen=True, slots=True)
class Policy:
    """One version of the studio policy.

    Minutes and days are elapsed; `minor_opens` and `minor_closes` are minutes of the local day. The
    defaults hold where a school sets nothing. 24 h of notice is what most published policies have;
    11 h of night rest is from the UK's rules on working time (HSE). Two make-ups for a family's own
    absences in a term, as colleges publish, and 90 days to use one, as an association's terms give,
    are from TRADE.md 1.8. The others are common practice or the project's own proposal. The four
    limits of an instructor's load are explained in domain.load.
    """

    lead_time_minutes: int = 720
    horizon_days: int = 60
    notice_minutes: int = 1440
    open_consultations: int = 2
    changeover_short_minutes: int = 5
    changeover_long_minutes: int = 10
    minor_opens: int = 480
    minor_closes: int = 1260
    run_minutes: int = 120
    run_gap_minutes: int = 15
    day_minutes: int = 360
    week_minutes: int = 1500
    night_rest_minutes: int = 660
    make_ups_a_term: int = 2
    make_up_use_by_days: int = 90


def changeover_minutes(policy: Policy, minutes: int) -> int:
    """Minutes kept free after a meeting: the short changeover up to 30 minutes, then the long."""
    return (
        policy.changeover_short_minutes
        if minutes <= SHORT_MEETING_MINUTES
        else policy.changeover_long_minutes
    )


def cancel_by(policy: Policy, starts_at: datetime) -> datetime:
    """The last instant at which a cancellation is in time.

    Notice is elapsed minutes before the start, so a clock change never shortens it.
    """
    return in_utc(starts_at) - timedelta(minutes=policy.notice_minutes)


def earliest_start(now: datetime, policy: Policy) -> datetime:
    """The first instant at which a meeting may start."""
    return now + timedelta(minutes=policy.lead_time_minutes)


def latest_start(now: datetime, policy: Policy) -> datetime:
    """The last instant at which a meeting may start."""
    return now + timedelta(days=policy.horizon_days)


def check_lead(start: datetime, now: datetime, policy: Policy, time_zone: str = "UTC") -> None:
    """Refused: "past" before now, "too-soon" inside the lead time.

    The zone serves only the sentence.
    """
    if start < now:
        raise Refused("past", "Choose a time in the future.")
    earliest = earliest_start(now, policy)
    if start < earliest:
        earliest += (EPOCH - earliest) % CELL
        raise Refused(
            "too-soon",
            f"Book at least {in_words(policy.lead_time_minutes)} ahead: the first time still "
            f"open is {spoken(earliest, time_zone)}.",
            earliest_at=rfc3339(earliest),
        )


def check_horizon(start: datetime, now: datetime, policy: Policy, time_zone: str = "UTC") -> None:
    """Refused("too-far") beyond the horizon; the zone serves only the sentence."""
    latest = latest_start(now, policy)
    if start > latest:
        latest -= (latest - EPOCH) % CELL
        raise Refused(
            "too-far",
            f"Book at most {policy.horizon_days} days ahead: the last time open now is "
            f"{spoken(latest, time_zone)}.",
            latest_at=rfc3339(latest),
        )


def is_minor(adult_on: date | None, on_date: date) -> bool:
    """Whether a person who comes of age on `adult_on` is a minor on that local date.

    None means an adult.
    """
    return adult_on is not None and on_date < adult_on


def minor_time(policy: Policy, time_zone: str) -> TeachingTime:
    """The hours of every day in which a minor may be taught, on the minor's own wall clock."""
    return daily(policy.minor_opens, policy.minor_closes, time_zone)


def daily(opens: int, closes: int, time_zone: str) -> TeachingTime:
    """The same hours, in minutes of the day, on every day of that wall clock."""
    return TeachingTime(
        weekly=tuple(
            WeeklyWindow(weekday, opens, closes, time_zone) for weekday in range(len(WEEKDAYS))
        )
    )


def check_minor(period: Period, time_zone: str, policy: Policy) -> None:
    """Refused("minor-hours") unless the period lies in a minor's hours on that wall clock.

    The closing time is included.

    It does not ask whether the student is a minor: call `is_minor` first. `data` names the start on
    the student's clock.
    """
    horizon = Horizon.spanning(period.starts_at, period.ends_at)
    if horizon.full & ~teachable(minor_time(policy, time_zone), horizon):
        raise Refused(
            "minor-hours",
            f"A student under 18 is taught between {clock(policy.minor_opens)} and "
            f"{clock(policy.minor_closes)} on the clock "
            "at home: choose a time within those hours. This one starts at "
            f"{spoken(period.starts_at, time_zone)} "
            f"and lasts {in_words(period.minutes)}.",
            local_start=period.starts_at.astimezone(zone(time_zone)).isoformat(),
            time_zone=time_zone,
        )


def check_allowance(open_count: int, policy: Policy) -> None:
    """Refused("allowance-used") if as many consultations are open as the policy allows."""
    if open_count >= policy.open_consultations:
        raise Refused(
            "allowance-used",
            f"{policy.open_consultations} consultations can be booked at once: take or cancel one, "
            "then book the next.",
            allowance=policy.open_consultations,
        )


def offer_answer_by(
    now: datetime, starts_at: datetime, time_zone: str, *, life: timedelta = OFFER_LIFE
) -> datetime | None:
    """Until when a freed place is offered to one person, or None.

    None means that no offer is made: the first person on the list who says yes gets the place. An
    offer lasts `life` or half the time left, whichever is less (a university registrar gives 24 h
    to accept). An answer due between 22:00 and 08:00 on the reader's clock is due at 08:00 if 4
    hours then remain, else at 22:00 the evening before.
    """
    left = starts_at - now
    if left < OFFER_MARGIN:
        return None
    answer_by = now + min(life, left / 2)
    morning = quiet_until(answer_by, time_zone)
    if morning == answer_by:
        return answer_by
    if starts_at - morning >= OFFER_MARGIN:
        return morning
    evening = _evening_before(answer_by, time_zone)
    return evening if evening > now else None


def is_first_yes(now: datetime, starts_at: datetime, zones: Iterable[str]) -> bool:
    """Whether a place free now goes to the first yes. `zones` are those of everyone who waits.

    It does if any of them, on their own clock, cannot be given time to answer.
    """
    return any(offer_answer_by(now, starts_at, time_zone) is None for time_zone in zones)


def offer_reminder_times(
    offered_at: datetime, answer_by: datetime, time_zone: str
) -> dict[str, datetime]:
    """When the reader of an offer is reminded, UTC: at "half" of its life, and when its "last
    quarter" begins.

    No reminder falls between 22:00 and 08:00 on the reader's clock, nor after `answer_by`. If both
    would wait for the same morning, only the later one stays. (A university registrar reminds at 12
    h and 6 h of 24.)
    """
    life = answer_by - offered_at
    half, quarter = (quiet_until(answer_by - life / part, time_zone) for part in (2, 4))
    found = {"half": half, "last quarter": quarter} if half < quarter else {"last quarter": quarter}
    return {name: at for name, at in found.items() if at < answer_by}


def none_before(
    since: datetime, reminders: dict[str, datetime], answer_by: datetime, time_zone: str
) -> dict[str, datetime]:
    """An offer's `reminders` for a reader who may be written to only from `since` on.

    Earlier reminders wait until `since`. If two then fall together, only the later one stays.
    """
    waiting = {quiet_until(max(at, since), time_zone): name for name, at in reminders.items()}
    return {name: at for at, name in waiting.items() if at < answer_by}


def quiet_until(instant: datetime, time_zone: str) -> datetime:
    """When a message due at the instant may leave, UTC.

    Between 22:00 and 08:00 on that wall clock, the next 08:00; else the instant itself.
    """
    local = instant.astimezone(zone(time_zone))
    minute = local.hour * 60 + local.minute
    if QUIET_TO <= minute < QUIET_FROM:
        return instant
    mornings = (
        at
        for ahead in range(4)
        for at in instants(local.date() + timedelta(days=ahead), QUIET_TO, time_zone)
    )
    return next(at for at in mornings if at > instant)


def _evening_before(instant: datetime, time_zone: str) -> datetime:
    local = instant.astimezone(zone(time_zone))
    evenings = (
        at
        for back in range(4)
        for at in reversed(instants(local.date() - timedelta(days=back), QUIET_FROM, time_zone))
    )
    return next(at for at in evenings if at <= instant)


def in_words(minutes: int) -> str:
    """ "24 hours", "90 minutes"."""
    count, unit = (minutes // 60, "hour") if minutes % 60 == 0 else (minutes, "minute")
    return f"{count} {unit}{'' if count == 1 else 's'}"
