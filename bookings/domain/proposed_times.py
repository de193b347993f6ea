"""What a school proposes or books by itself: how long a family may answer or decline."""

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

from bookings.domain.errors import Refused
from bookings.domain.policy import Policy, offer_answer_by, quiet_until
from bookings.domain.timeline import Period

PROPOSAL_LIFE = timedelta(hours=72)
DECLINE_LIFE = timedelta(hours=24)
MOST_TIMES = 3
"""How many proposed times one student may have open, all proposals together."""


def proposal_answer_by(now: datetime, starts: Sequence[datetime], time_zone: str) -> datetime:
    """Until when a family may take one of these times: three days, or half the time left.

    It never falls between 22:00 and 08:00 on the student's clock, as for an offer of a place.
    Refused("too-soon") where the earliest start leaves no time to answer.
    """
    answer_by = offer_answer_by(now, min(starts), time_zone, life=PROPOSAL_LIFE)
    if answer_by is None:
        raise Refused(
            "too-soon",
            "The first of these times is too near to be answered by day. "
            "Choose later times, or book the lesson.",
        )
    return answer_by


def shared_answer_by(now: datetime, starts: Sequence[datetime], zones: Collection[str]) -> datetime:
    """Until when families in several zones may answer one question: that of one of them.

    The earliest that falls by day on every clock, or else the earliest. Refused("too-soon") as
    `proposal_answer_by`.
    """
    found = sorted(proposal_answer_by(now, starts, name) for name in zones)
    by_day = (at for at in found if all(quiet_until(at, name) == at for name in zones))
    return next(by_day, found[0])


def check_count(starts: Sequence[datetime], already: int) -> None:
    """Refused: "invalid" without a start or for one named twice, "limit-reached" beyond three.

    `already` is how many times are proposed to the student and not answered.
    """
    if not starts or len(set(starts)) < len(starts):
        raise Refused("invalid", "Choose one to three different times.", field="starts")
    if already + len(starts) > MOST_TIMES:
        raise Refused(
            "limit-reached",
            f"A student can have {MOST_TIMES} proposed times at once, and {already} are open. "
            "Propose fewer, or take some back.",
        )


def check_apart(held: Sequence[Period]) -> None:
    """Refused("taken") where two of these stretches, changeover included, overlap."""
    in_order = sorted(held, key=lambda period: period.starts_at)
    for earlier, later in pairwise(in_order):
        if later.starts_at < earlier.ends_at:
            raise Refused(
                "taken",
                "These times overlap each other or the lesson, changeover included. "
                "Choose times further apart.",
            )


def without_lead(policy: Policy) -> Policy:
    """The policy as it binds a school that books by itself: without a lead time."""
    return replace(policy, lead_time_minutes=0)


def decline_by(now: datetime, starts_at: datetime) -> datetime:
    """Until when a family may decline, free of charge, what the school has just booked or moved."""
    return min(now + DECLINE_LIFE, starts_at)
