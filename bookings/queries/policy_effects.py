"""What a new version of the studio policy does to what is booked: everything stays, and what the
new rules would not allow is counted.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby

from django.db.models import Count, Q
from django.db.models.functions import Coalesce

from bookings.domain.errors import Refused
from bookings.domain.load import TAUGHT_AROUND
from bookings.domain.over_load import over_load
from bookings.domain.policy import Policy, check_minor, is_minor
from bookings.domain.policy_rules import changes_in_words, policy_in_full
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Kind
from bookings.domain.zones import zone
from bookings.models import ONE_ON_ONE, Booking, LoadAllowance, Meeting, StudioPolicy
from bookings.models.places import BookingQuerySet
from bookings.queries.policies import never_in_force, policy_then

_AT_MOST = ("run_minutes", "day_minutes", "week_minutes")
_AT_LEAST = ("run_gap_minutes", "night_rest_minutes")


@dataclass(frozen=True, slots=True)
class Effects:
    """How many places that are held ahead the new rules would not allow, by the rule.

    `minor_hours`: outside the new hours of students under 18. `horizon`: one-on-ones further ahead
    than may then be booked; weekly places have their own dates. `consultations`: more for one
    student than may be booked at once. `load`: lessons beyond an instructor's load. A rule that has
    not become stricter counts nothing.
    """

    minor_hours: int
    horizon: int
    consultations: int
    load: int

    @property
    def in_words(self) -> list[str]:
        """One sentence for each rule that something breaks."""
        return [
            f"{count} {'place ahead is' if count == 1 else 'places ahead are'} {rest}"
            for count, rest in (
                (self.minor_hours, "outside the new hours of students under 18."),
                (self.horizon, "beyond the new horizon."),
                (self.consultations, "above the new number of consultations at once."),
                (self.load, "beyond the new load of an instructor."),
            )
            if count
        ]


@dataclass(frozen=True, slots=True)
class Preview:
    """What a new version would change: one sentence for each rule that differs, or all rules where
    it is the first; what is booked and would not be allowed; versions that it overtakes.
    """

    is_first: bool
    changes: list[str]
    effects: Effects
    overtaken: list[StudioPolicy]


def preview_of(rules: Policy, *, since: datetime, now: datetime) -> Preview:
    """What these rules change if they are in force from `since`; at most eight queries.

    They are compared with the rules that would otherwise be in force then.
    """
    before = policy_then(since)
    old = before.rules() if before else None
    return Preview(
        is_first=old is None,
        changes=policy_in_full(rules) if old is None else list(changes_in_words(old, rules)),
        effects=effects_of(old, rules, since=since, now=now),
        overtaken=never_in_force(since),
    )


def effects_of(old: Policy | None, new: Policy, *, since: datetime, now: datetime) -> Effects:
    """What is booked for after `since`, the day from which the new rules are in force.

    At most six queries.
    """
    if old is None:
        return Effects(0, 0, 0, 0)
    ahead = Booking.objects.held().ahead(max(now, since))
    return Effects(
        minor_hours=_outside_minor_hours(ahead, old, new),
        horizon=_beyond_horizon(ahead, old, new, since),
        consultations=_too_many_consultations(ahead, old, new),
        load=_beyond_load(old, new, max(now, since)),
    )


def _outside_minor_hours(ahead: BookingQuerySet, old: Policy, new: Policy) -> int:
    if new.minor_opens <= old.minor_opens and new.minor_closes >= old.minor_closes:
        return 0
    rows = ahead.filter(student__adult_on__isnull=False)
    clock = Coalesce("student__user__time_zone", "student__own_time_zone")
    found = rows.values_list("student__adult_on", clock, "starts_at", "ends_at")
    return sum(
        _is_outside(adult_on, str(there), Period(starts_at, ends_at), new)
        for adult_on, there, starts_at, ends_at in found.iterator()
    )


def _is_outside(adult_on: date, time_zone: str, period: Period, policy: Policy) -> bool:
    local = period.starts_at.astimezone(zone(time_zone))
    if not is_minor(adult_on, local.date()):
        return False
    try:
        check_minor(period, time_zone, policy)
    except Refused:
        return True
    return False


def _beyond_horizon(ahead: BookingQuerySet, old: Policy, new: Policy, since: datetime) -> int:
    if new.horizon_days >= old.horizon_days:
        return 0
    rows = ahead.filter(meeting__offering__kind__in=ONE_ON_ONE, meeting__weekly_place=None)
    return rows.filter(starts_at__gt=since + timedelta(days=new.horizon_days)).count()


def _too_many_consultations(ahead: BookingQuerySet, old: Policy, new: Policy) -> int:
    most = new.open_consultations
    if most >= old.open_consultations:
        return 0
    rows = ahead.filter(meeting__offering__kind=Kind.CONSULTATION).order_by()
    counted = rows.values("student").annotate(count=Count("pk")).filter(Q(count__gt=most))
    return sum(row["count"] - most for row in counted)


def _beyond_load(old: Policy, new: Policy, since: datetime) -> int:
    stricter = any(getattr(new, name) < getattr(old, name) for name in _AT_MOST) or any(
        getattr(new, name) > getattr(old, name) for name in _AT_LEAST
    )
    if not stricter:
        return 0
    held = Meeting.objects.holding_time().ending_after(since - TAUGHT_AROUND)
    rows = held.order_by("instructor", "starts_at").values_list(
        "instructor", "starts_at", "ends_at", "offering__kind", "instructor__user__time_zone"
    )
    waived = set(LoadAllowance.objects.values_list("instructor", "starts_at"))
    count = 0
    for pk, group in groupby(rows.iterator(), key=lambda row: row[0]):
        theirs = list(group)
        judged = {
            starts_at
            for _, starts_at, _, kind, _ in theirs
            if starts_at > since and kind in ONE_ON_ONE and (pk, starts_at) not in waived
        }
        taught = [Period(starts_at, ends_at) for _, starts_at, ends_at, *_ in theirs]
        count += over_load(taught, judged, str(theirs[0][-1]), new)
    return count
