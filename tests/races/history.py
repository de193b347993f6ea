"""Judges a history: what clients asked and were told, between two readings of the database."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace

from tests.races.acts import Acts, succeeded
from tests.races.desk.rows import Desk
from tests.races.events import Event
from tests.races.orders import order
from tests.races.parts import Part, parts
from tests.races.standing import made_by
from tests.races.state import State
from tests.races.tables import table_faults
from tests.races.violations import FIGURES, Violation, told
from tests.races.witnesses import lost, queue_faults, refusal_faults

__all__ = ["Violation", "busy", "check", "summary"]


def check(events: Sequence[Event], before: State, after: State) -> list[Violation]:
    """Every fault that this history shows; none where all is well.

    `before` and `after` are read while nobody writes, and hold every row that the events can touch.
    A race's school has no rules that refuse by themselves: its load is wide, its starts are inside
    hours and lead time, its students adult.
    """
    found = [fault for event in events if (fault := _fault(event)) is not None]
    found += table_faults(before, after)
    kept, doubled = _once_each(events)
    found += doubled
    claimed = frozenset(pk for event in kept if succeeded(event) for pk in made_by(event))
    acts = Acts(before, after, claimed)
    gone, missing = lost(acts, kept)
    found += gone
    unjust, unwitnessed = refusal_faults(acts, kept)
    found += unjust + queue_faults(acts, kept)
    left = [event for event in kept if event not in unwitnessed]
    for part in parts(acts, left + _lapses(before, after)):
        # Where something acknowledged is gone, no order can end in what is left; one fault is not
        # to be counted as many.
        if not any(event in missing for event in part.events):
            found += _disorder(acts, part)
    return found


def summary(violations: Sequence[Violation]) -> dict[str, int]:
    """How many of each kind, by the names of the figures."""
    counted = Counter(violation.kind for violation in violations)
    return {figure: counted[kind] for kind, figure in FIGURES.items()}


def busy(events: Sequence[Event]) -> int:
    """How many were told to come again: allowed, and worth a number."""
    return sum(event.status == 503 and event.body.get("code") == "busy" for event in events)


def _fault(event: Event) -> Violation | None:
    text = str(event.body).lower() if event.status is not None and event.status >= 400 else ""
    if "database is locked" in text:
        return Violation("locked", told(event))
    if "deadlock" in text:
        return Violation("deadlock", told(event))
    if event.status is not None and event.status >= 500 and event.body.get("code") != "busy":
        return Violation("server-error", told(event))
    return None


def _once_each(events: Sequence[Event]) -> tuple[list[Event], list[Violation]]:
    """Requests with one Idempotency-Key as the one that had an effect, and a fault where their
    answers differ.
    """
    kept: list[Event] = []
    found: list[Violation] = []
    keyed: dict[tuple[object, ...], list[Event]] = defaultdict(list)
    for event in events:
        sent = event.arguments
        if sent.get("key") is None:
            kept.append(event)
        else:
            of = (event.operation, sent.get("student"), sent.get("booking"), sent["key"])
            keyed[of].append(event)
    for group in keyed.values():
        reused = [event for event in group if event.body.get("code") == "key-reused"]
        passed = [event for event in group if _passed(event)]
        unanswered = [event for event in group if event.status is None]
        answered = [event for event in group if event not in [*reused, *passed, *unanswered]]
        kept += passed
        found += _wrongly_reused(reused, group) + _two_answers(answered)
        first = answered or unanswered
        if first:
            kept.append(_as_one(first[0], group, answered))
    return kept, found


def _passed(event: Event) -> bool:
    """Whether it was answered by a fault or by the throttle, which keep no answer under a key."""
    return event.status is not None and (event.status >= 500 or event.status == 429)


def _wrongly_reused(reused: Sequence[Event], group: Sequence[Event]) -> list[Violation]:
    """Requests that were told their key was used for another one, where there is no other one."""
    return [
        Violation("false-refusal", f"no other request had this key: {told(event)}")
        for event in reused
        if all(other.arguments == event.arguments for other in group)
    ]


def _two_answers(answered: Sequence[Event]) -> list[Violation]:
    """Requests of one key whose answer is not that of the first."""
    found = []
    for event in answered[1:]:
        first = answered[0]
        if (event.status, event.body, event.arguments) != (
            first.status,
            first.body,
            first.arguments,
        ):
            said = f"one key, two answers: {told(first)} and {told(event)}"
            found.append(Violation("not-linearisable", said))
    return found


def _as_one(first: Event, group: Sequence[Event], answered: Sequence[Event]) -> Event:
    """The group as one request. It happened after the first of them was called and before the first
    was answered.
    """
    called = min(event.called for event in group)
    ends = [event.returned for event in answered if event.returned is not None]
    return replace(first, called=called, returned=min(ends, default=None))


def _lapses(before: State, after: State) -> list[Event]:
    """Offers and proposals that lapsed meanwhile: nobody asked, so it may have been at any time
    since they were due.
    """
    found = []
    for row in after.bookings.values():
        stood = before.bookings.get(row.id)
        is_new = stood is None or stood.live
        if row.ended_why == "lapsed" and is_new and row.proposed is None:
            due = after.monotonic(row.answer_by) if row.answer_by is not None else float("-inf")
            found.append(Event(0, "lapse", {"booking": row.id}, due, None, None, {}))
    for proposal in after.proposals.values():
        known = before.proposals.get(proposal.id)
        if proposal.ended_why == "lapsed" and (known is None or not known.ended_why):
            due = after.monotonic(proposal.answer_by)
            found.append(Event(0, "lapse-times", {"proposal": proposal.id}, due, None, None, {}))
    return found


def _disorder(acts: Acts, part: Part) -> list[Violation]:
    """A fault where no order explains this part: the refusals that by themselves cannot be
    explained, or the whole.
    """
    start, end = part.desk(acts.before), part.desk(acts.after)
    verdict = order(acts, part.events, start, end)
    if verdict.ordered:
        return []
    count, stuck = len(part.events), _stuck(verdict.stuck)
    if verdict.ordered is None:
        text = f"undecided: {count} requests have too many orders; {stuck}"
        return [Violation("not-linearisable", text)]
    alone = _unjustified(acts, part.events, start, end)
    if alone:
        return [
            Violation("false-refusal", f"no moment justifies it: {told(event)}") for event in alone
        ]
    text = f"no order of {count} requests gives these answers; {stuck}"
    return [Violation("not-linearisable", text)]


def _unjustified(acts: Acts, events: Sequence[Event], start: Desk, end: Desk) -> list[Event]:
    """The refusals that fit into no order of the writes; none where the writes alone have none."""
    refusals = [
        event
        for event in events
        if not succeeded(event) and event.status is not None and event.status < 500
    ]
    writes = [event for event in events if event not in refusals]
    if not refusals or not order(acts, writes, start, end).ordered:
        return []
    return [
        event for event in refusals if order(acts, [*writes, event], start, end).ordered is False
    ]


def _stuck(events: Sequence[Event]) -> str:
    return "could not be placed: " + (
        "; ".join(map(told, events[:5])) or "none, but the rows at the end are others"
    )
