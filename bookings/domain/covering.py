"""The rules of a lesson that a substitute takes at its own time."""

from dataclasses import replace
from datetime import datetime

from bookings.domain.parties import InstructorTime, OfferingRules, StudentTime
from bookings.domain.policy import Policy
from bookings.domain.reasons import HOURS, reasons_against

_OF_THE_START = ("lead time", "horizon", "start times")
"""The family agreed to the start long ago, so these do not bind."""


def check_cover(
    starts_at: datetime,
    offering: OfferingRules,
    substitute: InstructorTime,
    policy: Policy,
    now: datetime,
    *,
    has_yes: bool,
) -> None:
    """Refused as `check_start` by what stands against the substitute: "outside-hours", "taken" and
    the codes of the load.

    With their own yes neither hours nor load bind. The student has the lesson already, so that
    nothing of theirs is judged.
    """
    if has_yes:
        substitute = replace(substitute, allowed=substitute.allowed | {starts_at})
    nobody = StudentTime(id=0, time_zone="UTC")
    for reason in reasons_against(starts_at, offering, substitute, nobody, policy, now):
        if reason.rule in _OF_THE_START or (has_yes and reason.rule == HOURS):
            continue
        raise reason.refusal
