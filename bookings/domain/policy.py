"""The booking rules, one place for each. `now` and every instant are aware UTC."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings.domain.errors import Refused
from bookings.domain.hours import WEEKDAYS, TeachingTime, WeeklyWindow, instants, teachable
from bookings.domain.timeline import CELL, EPOCH, Horizon, Period, in_utc, rfc3339
from bookings.domain.wall import spoken
from bookings.domain.zones import zone

SHORT_MEETING_MINUTES = 30
QUIET_FROM, QUIET_TO = 22 * 60, 8 * 60  # minutes of the reader's day
OFFER_LIFE = timedelta(hours=24)
OFFER_MARGIN = timedelta(hours=4)


@dataclass(frozen=True, slots=True)
class Policy:
    """One version of the studio policy. Minutes and days are elapsed ones; `minor_opens` and `minor_closes` are minutes of the local day.

    The defaults hold where a school sets nothing: 24 h of notice as most published policies have it, 11 h of night rest
    from the UK's rules on working time (HSE), the others common practice or the project's own proposal.
    An instructor's load: see domain.load.
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


def changeover_minutes(policy: Policy, minutes: int) -> int:
    """Minutes kept free after a meeting of that length: the short changeover up to 30 minutes, else the long one."""
    return (
        policy.changeover_short_minutes
        if minutes <= SHORT_MEETING_MINUTES
        else policy.changeover_long_minutes
    )


def cancel_by(policy: Policy, starts_at: datetime) -> datetime:
    """The last instant at which cancelling is in time: elapsed minutes before the start, so a clock change never shortens the notice."""
    return in_utc(starts_at) - timedelta(minutes=policy.notice_minutes)


def earliest_start(now: datetime, policy: Policy) -> datetime:
    """The first instant at which a meeting may start."""
    return now + timedelta(minutes=policy.lead_time_minutes)


def latest_start(now: datetime, policy: Policy) -> datetime:
    """The last instant at which a meeting may start, itself included."""
    return now + timedelta(days=policy.horizon_days)


def check_lead(start: datetime, now: datetime, policy: Policy, time_zone: str = "UTC") -> None:
    """Refused("past") before now, Refused("too-soon") inside the lead time; the zone is only for the words."""
    if start < now:
        raise Refused("past", "Choose a time in the future.")
    earliest = earliest_start(now, policy)
    if start < earliest:
        earliest += (EPOCH - earliest) % CELL
        raise Refused(
            "too-soon",
            f"Book at least {in_words(policy.lead_time_minutes)} ahead: the first time still open is {spoken(earliest, time_zone)}.",
            earliest_at=rfc3339(earliest),
        )


def check_horizon(start: datetime, now: datetime, policy: Policy, time_zone: str = "UTC") -> None:
    """Refused("too-far") beyond the horizon; the zone is only for the words."""
    latest = latest_start(now, policy)
    if start > latest:
        latest -= (latest - EPOCH) % CELL
        raise Refused(
            "too-far",
            f"Book at most {policy.horizon_days} days ahead: the last time open now is {spoken(latest, time_zone)}.",
            latest_at=rfc3339(latest),
        )


def is_minor(adult_on: date | None, on_date: date) -> bool:
    """Whether someone who comes of age on `adult_on` is a minor on that local date; None = of age."""
    return adult_on is not None and on_date < adult_on


def minor_time(policy: Policy, time_zone: str) -> TeachingTime:
    """The hours of every day in which a minor may be taught, on the minor's own wall clock."""
    return daily(policy.minor_opens, policy.minor_closes, time_zone)


def daily(opens: int, closes: int, time_zone: str) -> TeachingTime:
    """The same minutes of every day on that wall clock."""
    return TeachingTime(
        weekly=tuple(
            WeeklyWindow(weekday, opens, closes, time_zone) for weekday in range(len(WEEKDAYS))
        )
    )


def check_minor(period: Period, time_zone: str, policy: Policy) -> None:
    """Refused("minor-hours") unless the whole period lies in a minor's hours on that wall clock, the closing time included.

    Ask `is_minor` first: this takes the student to be one. `data` names the start as the student reads it.
    """
    horizon = Horizon.spanning(period.starts_at, period.ends_at)
    if horizon.full & ~teachable(minor_time(policy, time_zone), horizon):
        raise Refused(
            "minor-hours",
            f"A student under 18 is taught between {_clock(policy.minor_opens)} and {_clock(policy.minor_closes)} on the clock "
            f"at home: choose a time within those hours. This one starts at {spoken(period.starts_at, time_zone)} "
            f"and lasts {in_words(period.minutes)}.",
            local_start=period.starts_at.astimezone(zone(time_zone)).isoformat(),
            time_zone=time_zone,
        )


def check_allowance(open_count: int, policy: Policy) -> None:
    """Refused("allowance-used") when the student already has that many open consultations as the policy allows."""
    if open_count >= policy.open_consultations:
        raise Refused(
            "allowance-used",
            f"{policy.open_consultations} consultations can be booked at once: take or cancel one, then book the next.",
            allowance=policy.open_consultations,
        )


def offer_answer_by(now: datetime, starts_at: datetime, time_zone: str) -> datetime | None:
    """Until when a freed place is offered to one person; None when no offer is made and the first on the list to say yes has it.

    24 hours or half the time left, whichever is less (a university registrar's 24 h to accept). An answer due between
    22:00 and 08:00 of the reader's clock is due at 08:00 where 4 hours then remain, else at 22:00 the evening before.
    """
    left = starts_at - now
    if left < OFFER_MARGIN:
        return None
    answer_by = now + min(OFFER_LIFE, left / 2)
    morning = quiet_until(answer_by, time_zone)
    if morning == answer_by:
        return answer_by
    if starts_at - morning >= OFFER_MARGIN:
        return morning
    evening = _evening_before(answer_by, time_zone)
    return evening if evening > now else None


def is_first_yes(now: datetime, starts_at: datetime, zones: Iterable[str]) -> bool:
    """Whether a place free now goes to the first yes: somebody who waits, each on her own clock, cannot be given time to answer."""
    return any(offer_answer_by(now, starts_at, time_zone) is None for time_zone in zones)


def offer_reminders(
    offered_at: datetime, answer_by: datetime, time_zone: str
) -> dict[str, datetime]:
    """When the reader of that zone is reminded of an offer, UTC: "half" of its life, and the beginning of its "last quarter".

    Never between 22:00 and 08:00 of her clock, nor when it is too late to answer; where both wait for one morning the later
    is enough. (A university registrar reminds at 12 h and 6 h of 24.)
    """
    life = answer_by - offered_at
    half, quarter = (quiet_until(answer_by - life / part, time_zone) for part in (2, 4))
    found = {"half": half, "last quarter": quarter} if half < quarter else {"last quarter": quarter}
    return {name: at for name, at in found.items() if at < answer_by}


def none_before(
    since: datetime, reminders: dict[str, datetime], answer_by: datetime, time_zone: str
) -> dict[str, datetime]:
    """`reminders` of an offer for a reader who is written to only from `since` on: earlier ones wait
    for it, and of two that wait the later is enough.
    """
    waiting = {quiet_until(max(at, since), time_zone): name for name, at in reminders.items()}
    return {name: at for at, name in waiting.items() if at < answer_by}


def quiet_until(instant: datetime, time_zone: str) -> datetime:
    """When a message due at the instant may leave: the next 08:00 in UTC inside 22:00-08:00 of that wall clock, else the instant."""
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


def _clock(minute: int) -> str:
    return f"{minute // 60:02}:{minute % 60:02}"


def in_words(minutes: int) -> str:
    """ "24 hours", "90 minutes"."""
    count, unit = (minutes // 60, "hour") if minutes % 60 == 0 else (minutes, "minute")
    return f"{count} {unit}{'' if count == 1 else 's'}"
