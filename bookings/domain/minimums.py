"""The minimum to run: how many players a group meeting needs, and by when it is decided.

It is decided once: at `decide_by` by the players who hold a place then, or before it by an admin
who says that the meeting runs. Reaching the minimum earlier decides nothing, because players may
still leave; leaving after the decision changes nothing.
"""

from dataclasses import dataclass
from datetime import datetime

from bookings.domain.errors import Refused


@dataclass(frozen=True, slots=True)
class Minimum:
    """`players` have to hold a place at the instant `decide_by`, else the meeting is called off."""

    players: int
    decide_by: datetime


def check_minimum(minimum: Minimum, *, places: int, starts_at: datetime, now: datetime) -> None:
    """Refused: "invalid" for a minimum above the places or a decision at the start or later, "past"
    for a decision that is due already.
    """
    check_fits(minimum, places=places, starts_at=starts_at)
    if minimum.decide_by <= now:
        raise Refused("past", "Decide at a time that is still to come.")


def check_fits(minimum: Minimum, *, places: int, starts_at: datetime) -> None:
    """Refused("invalid") for a minimum above the places, or decided at the start or later."""
    if minimum.players < 1:
        raise Refused("invalid", "A minimum is at least one player.", field="minimum")
    if minimum.players > places:
        raise Refused(
            "invalid",
            f"The minimum to run is {minimum.players} players: have at least as many places.",
            field="minimum",
        )
    if minimum.decide_by >= starts_at:
        raise Refused(
            "invalid",
            "Whether it runs has to be decided before the meeting starts.",
            field="decide_by",
        )
