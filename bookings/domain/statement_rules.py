"""When a statement may be written: its dates are over, it has lines, every register is marked."""

from collections.abc import Iterable, Sequence
from datetime import date

from bookings.domain.errors import Refused
from bookings.domain.statements import Line, MeetingOutcome
from bookings.domain.timeline import rfc3339

LONGEST_DAYS = 366
"""A year is the longest pay period."""


def check_period(first_on: date, last_on: date, today: date) -> None:
    """Refused: "end-before-start"; "invalid" over LONGEST_DAYS; "not-yet" until it is over.

    `today` is the date on the instructor's clock.
    """
    if last_on < first_on:
        raise Refused(
            "end-before-start", "Choose a last day that is not before the first.", field="last_on"
        )
    if (last_on - first_on).days >= LONGEST_DAYS:
        raise Refused(
            "invalid", f"A statement covers {LONGEST_DAYS} days at most.", field="last_on"
        )
    if last_on >= today:
        raise Refused(
            "not-yet",
            "These days are not over yet on the instructor’s clock. Choose an earlier last day.",
            field="last_on",
        )


def check_lines(lines: Sequence[Line]) -> None:
    """Refused("invalid") for a statement without lines: it would say nothing, and it is final."""
    if not lines:
        raise Refused(
            "invalid",
            "A statement of these days would be empty. Choose days with lessons or meetings.",
            field="first_on",
        )


def check_registers(lines: Iterable[Line]) -> None:
    """Refused("register-open") with the `meetings` whose register is open, by id and start."""
    found = [line for line in lines if line.outcome is MeetingOutcome.REGISTER_OPEN]
    if found:
        count = "One register is" if len(found) == 1 else f"{len(found)} registers are"
        raise Refused(
            "register-open",
            f"{count} still open. Mark what happened in each meeting first.",
            meetings=[
                {"id": line.meeting_id, "starts_at": rfc3339(line.starts_at)} for line in found
            ],
        )
