"""What can be said of single requests, without an order of all: kept what was acknowledged, refused
with reason, in line.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence

from tests.races.acts import Acts, changes, instant, refused, succeeded
from tests.races.events import Event
from tests.races.kept_books import BOOKS, not_in_the_books
from tests.races.standing import MOVES, Standing, made_by
from tests.races.state import MeetingRow, State
from tests.races.violations import Violation, told

ENDS = ("cancel", "decline", "leave-list", *MOVES, "lapse", "dismiss", "days-away")
PROPOSALS_END = {"decline-times": "declined", "withdraw-times": "removed", "take": "placed"}


def lost(acts: Acts, events: Sequence[Event]) -> tuple[list[Violation], list[Event]]:
    """Acknowledged writes that the last reading does not show, and those of them that no order can
    explain either.
    """
    found: list[Violation] = []
    missing: list[Event] = []
    writes = [event for event in events if changes(event)]
    about: dict[int, list[Event]] = defaultdict(list)
    called_off = any(event.arguments.get("call_off") for event in writes)
    for event in writes:
        for name in ("booking", "with_sibling"):
            if name in event.arguments:
                about[event.arguments[name]].append(event)
    for event in filter(succeeded, writes):
        for pk in made_by(event):
            row = acts.after.bookings.get(pk)
            ended = called_off or any(
                other is not event and other.operation in ("cancel", "move", "decline")
                for other in about[pk]
            )
            over = row is not None and (row.ended_why == "moved" or row.proposed is not None)
            if row is None or (not row.live and not ended and not over):
                found.append(Violation("acked-lost", f"booking {pk} is not there: {told(event)}"))
                missing.append(event)
                break
        else:
            said = _not_kept(acts, event, about)
            if said:
                found.append(Violation("acked-lost", f"{said}: {told(event)}"))
                missing.append(event)
    return found, missing


def refusal_faults(acts: Acts, events: Sequence[Event]) -> tuple[list[Violation], list[Event]]:
    """Refusals that nothing which could have stood meanwhile can explain."""
    stood = Standing(acts, events)
    unwitnessed = [event for event in events if refused(event) and not stood.explains(event)]
    return [
        Violation("false-refusal", f"nothing stood in the way: {told(event)}")
        for event in unwitnessed
    ], unwitnessed


def queue_faults(acts: Acts, events: Sequence[Event]) -> list[Violation]:
    """The queue: in order of joining, nobody passed over, no free place kept from who waits, no yes
    after its time.
    """
    joins = [event for event in events if event.operation == "wait" and succeeded(event)]
    joined = {
        event.body["id"]: event for event in joins if event.body.get("id") in acts.after.waiting
    }
    found = [*_out_of_order(acts, joined)]
    for (pk, kind), line in acts.after.queues.items():
        meeting = acts.after.meetings.get(pk)
        if meeting is None or pk in acts.setting.first_yes:
            continue
        waiting = [
            row for row in line if row.offer is None and row.student not in acts.setting.passed_over
        ]
        if waiting and meeting.live and _has_room(acts.after, meeting, kind):
            said = f"meeting {pk} has a free {kind} place and student {waiting[0].student} waits"
            found.append(Violation("queue-order", said))
        for row in waiting:
            since = -math.inf if row.id in acts.before.waiting else _until(joined.get(row.id))
            found += _passed_over(acts, events, joined, row.id, since)
    return [*found, *_late_answers(acts, events)]


def _out_of_order(acts: Acts, joined: dict[int, Event]) -> Iterator[Violation]:
    """Places of one queue that stand otherwise than they were given."""
    for a, first in joined.items():
        for b, second in joined.items():
            one, other = acts.after.waiting[a], acts.after.waiting[b]
            same = (one.meeting, one.place_kind) == (other.meeting, other.place_kind)
            earlier = first.returned is not None and first.returned < second.called
            if same and earlier and one.order > other.order:
                said = f"waiting place {a} was given before {b} and stands behind it"
                yield Violation("queue-order", said)


def _has_room(state: State, meeting: MeetingRow, kind: str) -> bool:
    taken = sum(row.place_kind == kind for row in state.by_meeting.get(meeting.id, ()))
    return taken < (meeting.places if kind == "player" else meeting.listener_places)


def _late_answers(acts: Acts, events: Sequence[Event]) -> Iterator[Violation]:
    """Offers that were accepted, and times taken, after the time at which they end."""
    for event in events:
        if event.operation in ("accept", "take") and succeeded(event):
            due = acts.answer_by(event)
            if due is not None and event.called > acts.after.monotonic(due):
                yield Violation("queue-order", f"accepted after its time: {told(event)}")


def _passed_over(
    acts: Acts, events: Sequence[Event], joined: dict[int, Event], first: int, since: float
) -> Iterable[Violation]:
    """Those who joined later and were offered a place, or came by and took one, while this one
    waited all the time.
    """
    row = acts.after.waiting[first]
    for later in acts.after.waiting.values():
        same = (later.meeting, later.place_kind) == (
            row.meeting,
            row.place_kind,
        ) and later.order > row.order
        if same and later.offer is not None and later.offer not in acts.before.bookings:
            call = joined[later.id].called if later.id in joined else -math.inf
            if since < call or row.id in acts.before.waiting:
                yield Violation(
                    "queue-order",
                    f"waiting place {later.id} was offered a place before {row.id}, "
                    "which is ahead of it",
                )
    for event in events:
        took = event.operation == "book-place" and succeeded(event) and event.called > since
        if took and (event.arguments["meeting"], event.arguments.get("as", "player")) == (
            row.meeting,
            row.place_kind,
        ):
            yield Violation("queue-order", f"waiting place {row.id} was jumped: {told(event)}")


def _until(event: Event | None) -> float:
    return math.inf if event is None or event.returned is None else event.returned


def _not_kept(acts: Acts, event: Event, about: dict[int, list[Event]]) -> str:
    """What the last reading lacks of a change of one row; empty where it is all there."""
    if event.operation == "wait":
        return "" if event.body["id"] in acts.after.waiting else "no such place in the queue"
    if event.operation in PROPOSALS_END:
        return _answer_not_kept(acts, event, about)
    if event.operation in BOOKS:
        return not_in_the_books(acts, event)
    if "booking" not in event.arguments or event.operation not in (
        "cancel",
        "decline",
        "accept",
        *MOVES,
    ):
        return ""
    pk = event.arguments["booking"]
    row = acts.after.bookings.get(pk)
    others = [other.operation for other in about[pk] if other is not event]
    if row is None:
        return f"booking {pk} is not there"
    if event.operation in ("cancel", "decline"):
        return f"booking {pk} still stands" if row.live else ""
    if event.operation == "accept":
        return (
            f"booking {pk} is {row.standing}"
            if row.standing != "HELD" and not set(others) & set(ENDS)
            else ""
        )
    if "starts_at" not in event.arguments or not row.live:
        return ""
    # The last of several moves is the one that shows.
    moves = [other for other in about[pk] if other.operation in MOVES]
    if any(other.arguments.get("with_sibling") == pk for other in moves):
        return ""  # it moved beside another, and only an order tells where to
    starts = {other.arguments.get("starts_at") for other in moves}
    return (
        ""
        if row.starts_at in {instant(text) for text in starts if text}
        else f"booking {pk} is not at its new start"
    )


def _answer_not_kept(acts: Acts, event: Event, about: dict[int, list[Event]]) -> str:
    """What the last reading lacks of the answer to a proposal; empty where it is all there."""
    pk, why = event.arguments["proposal"], PROPOSALS_END[event.operation]
    proposal = acts.after.proposals.get(pk)
    if proposal is None or proposal.ended_why != why:
        return f"proposal {pk} has not ended as {why}"
    if event.operation != "take":
        return ""
    row = acts.after.bookings.get(event.body["id"])
    if row is not None and row.standing == "HELD":
        return ""
    ended = any(other.operation in ENDS for other in about[event.body["id"]])
    return "" if ended and row is not None else f"booking {event.body['id']} is not held"
