"""Faults of a history, and how a request is named in one."""

from dataclasses import dataclass

from tests.races.events import Event

FIGURES = {
    "overlap": "overlaps",
    "over-places": "over_places",
    "false-refusal": "false_refusals",
    "server-error": "server_errors",
    "deadlock": "deadlocks",
    "locked": "locked",
    "acked-lost": "acked_lost",
    "queue-order": "queue_order",
    "not-linearisable": "not_linearisable",
}
"""Kinds of faults, and the figures that count them."""


@dataclass(frozen=True, slots=True)
class Violation:
    """A fault: its kind, one of FIGURES, and a sentence with the rows and requests concerned."""

    kind: str
    text: str


def told(event: Event) -> str:
    """A request in a few words."""
    answer = (
        "no answer"
        if event.status is None
        else f"{event.status} {event.body.get('code', event.body.get('id', ''))}".strip()
    )
    until = "never" if event.returned is None else f"{event.returned:.4f}"
    sent = ", ".join(f"{name}={value}" for name, value in event.arguments.items())
    return (
        f"{event.operation}({sent}) by client {event.client} in [{event.called:.4f}, {until}]: "
        f"{answer}"
    )
