"""What must hold in the rows whatever happened: no overlaps, no place too many, counters equal to
rows.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from datetime import datetime

from tests.races.state import MeetingRow, State
from tests.races.violations import Violation

Span = tuple[datetime, datetime, int]


def table_faults(before: State, after: State) -> list[Violation]:
    """Faults of the rows of `after`; a counter that was wrong before is not this race's doing."""
    return [*_double_bookings(after), *_wrong_counts(before, after)]


def _double_bookings(state: State) -> Iterator[Violation]:
    """Instructors and students who are in two places at once."""
    taught: dict[int, list[Span]] = defaultdict(list)
    for meeting in state.meetings.values():
        if meeting.live and not meeting.flagged:
            taught[meeting.instructor].append((meeting.starts_at, meeting.held_until, meeting.id))
    held: dict[int, list[Span]] = defaultdict(list)
    for booking in state.bookings.values():
        if booking.standing == "HELD":
            held[booking.student].append((booking.starts_at, booking.ends_at, booking.meeting))
    for pk, spans in taught.items():
        for a, b in _overlaps(spans):
            yield Violation("overlap", f"instructor {pk} has meetings {a} and {b} at once")
    for pk, spans in held.items():
        for a, b in _overlaps(spans):
            if a != b:
                yield Violation("overlap", f"student {pk} is held in meetings {a} and {b} at once")


def _wrong_counts(before: State, after: State) -> Iterator[Violation]:
    """Meetings with more than their places, or whose counter is not the number of their rows."""
    rows, old = _live_rows(after), _live_rows(before)
    for meeting in after.meetings.values():
        stood = before.meetings.get(meeting.id)
        for kind in ("player", "listener"):
            taken, places = _counted(meeting, kind)
            there = rows[meeting.id, kind]
            off = 0 if stood is None else _counted(stood, kind)[0] - old[meeting.id, kind]
            if max(taken, there) > places:
                said = f"has {places} {kind} places; {taken} counted, {there} rows"
                yield Violation("over-places", f"meeting {meeting.id} {said}")
            elif taken - there not in (0, off):
                said = f"counts {taken} {kind} places taken and has {there} rows"
                yield Violation("over-places", f"meeting {meeting.id} {said}")


def _live_rows(state: State) -> Counter[tuple[int, str]]:
    """How many live bookings there are of a meeting and a kind of place."""
    return Counter((row.meeting, row.place_kind) for row in state.bookings.values() if row.live)


def _counted(meeting: MeetingRow, kind: str) -> tuple[int, int]:
    return (
        (meeting.taken, meeting.places)
        if kind == "player"
        else (meeting.listeners_taken, meeting.listener_places)
    )


def _overlaps(spans: Iterable[Span]) -> list[tuple[int, int]]:
    """Pairs whose later one begins before one that began earlier has ended; each later one once."""
    found = []
    reach: Span | None = None
    for span in sorted(spans):
        if reach is not None and span[0] < reach[1]:
            found.append((reach[2], span[2]))
        if reach is None or span[1] > reach[1]:
            reach = span
    return found
