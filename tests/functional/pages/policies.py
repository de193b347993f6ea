"""What the form of a new studio policy sends."""

from bookings.domain.policy import Policy
from bookings.domain.policy_rules import RULES, Unit
from bookings.domain.wall import clock
from bookings.pages.forms.policies import hours_text


def typed_rules(*, version: int, **typed: object) -> dict[str, object]:
    """The usual rules as they are typed, but for those named; bound to that newest version."""
    usual = Policy()
    ways = {Unit.HOURS: hours_text, Unit.CLOCK: clock}
    return {
        **{
            rule.name: ways.get(rule.unit, str)(getattr(usual, rule.name))  # type: ignore[operator]
            for rule in RULES
        },
        "version": version,
        **typed,
    }
