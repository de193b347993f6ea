"""What must hold in the rows whatever happened: no overlaps, no place too many, counters equal to
rows.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable
from datetime import datetime

from tests.races.state import MeetingRow, State
from tests.races.violations import Violation

Span = tuple[datetime, datetime, int]


def table_faults(before: State, after: State) -> list[Violation]:
    """Faults of the rows of `after`; a counter that was wrong before is not this race's doing."""
    taught: dict[int, list[Span]] = defaultdict(list)
    for meeting in after.meetings.values():
        if meeting.live and not meeting.flagged:
            taught[meeting.instructor].append((meeting.starts_at, meeting.held_until, meeting.id))
    held: dict[int, list[Span]] = defaultdict(list)
    for booking in after.bookings.values():
        if booking.standing == "HELD":
            held[booking.student].append((booking.starts_at, booking.ends_at, booking.meeting))
    found = [
        Violation("overlap", f"instructor {pk} has meetings {a} and {b} at once")
        for pk, spans in taught.items()
        for a, b in _overlaps(spans)
    ]
    found += [
        Violation("overlap", f"student {pk} is held in meetings {a} and {b} at once")
        for pk, spans in held.items()
        for a, b in _overlaps(spans)
        if a != b
    ]
    rows = Counter((row.meeting, row.place_kind) for row in after.bookings.values() if row.live)
    old = Counter((row.meeting, row.place_kind) for row in before.bookings.values() if row.live)
    for meeting in after.meetings.values():
        stood = before.meetings.get(meeting.id)
        for kind in ("player", "listener"):
            taken, places = _counted(meeting, kind)
            there = rows[meeting.id, kind]
            if max(taken, there) > places:
                found.append(
                    Violation(
                        "over-places",
                        (
                            f"meeting {meeting.id} has {places} {kind} places; {taken} counted, "
                            f"{there} rows"
                        ),
                    )
                )
            elif taken != there and (
                stood is None or _counted(stood, kind)[0] - old[meeting.id, kind] != taken - there
            ):
                found.append(
                    Violation(
                        "over-places",
                        (
                            f"meeting {meeting.id} counts {taken} {kind} places taken and has "
                            f"{there} rows"
                        ),
                    )
                )
    return found


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
