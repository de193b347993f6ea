"""How times, names and ends of messages are put: plain words, the reader's clock first, the other clock second."""

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime

from django.conf import settings

from accounts.models import User
from bookings.domain.zones import place, zone
from bookings.models import Meeting

CHANGES = "/my-lessons/"
TEACHING = "/"  # leads an instructor to her own day


def link(path: str) -> str:
    """The full address of a page."""
    return f"{settings.BASE_URL}{path}"


def period(meeting: Meeting, time_zone: str) -> str:
    """ "Monday 15 March 2027, 17:00–17:25, New York"; in a repeated hour with the offset, which alone tells the two apart."""
    start, end = (
        instant.astimezone(zone(time_zone)) for instant in (meeting.starts_at, meeting.ends_at)
    )
    return f"{start:%A} {start.day} {start:%B %Y}, {start:%H:%M}–{end:%H:%M}, {place(time_zone)}{_offset(start)}"


def short_time(instant: datetime, time_zone: str) -> str:
    """ "Mon 15 March 17:00, New York": for a heading or a time limit."""
    local = instant.astimezone(zone(time_zone))
    return f"{short_local(local)}, {place(time_zone)}{_offset(local)}"


def short_local(local: datetime) -> str:
    """ "Mon 15 March 17:00": what a clock shows or showed."""
    return f"{local:%a} {local.day} {local:%B %H:%M}"


def full_time(instant: datetime, time_zone: str) -> str:
    """ "Saturday 13 March, 14:00 (New York)": for a deadline."""
    local = instant.astimezone(zone(time_zone))
    return f"{local:%A} {local.day} {local:%B}, {local:%H:%M} ({place(time_zone)}{_offset(local)})"


def deadline(instant: datetime, time_zone: str) -> str:
    """Until when cancelling costs nothing, in the one phrase that is used everywhere."""
    return f"You can cancel free of charge until {full_time(instant, time_zone)}."


def _offset(local: datetime) -> str:
    repeated = local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
    return f" (UTC{local:%z})" if repeated and local.tzinfo is not UTC else ""


def both_clocks(meeting: Meeting, reader: User, others_zone: str, other: str) -> str:
    """The period on the reader's clock and, where it differs, on the clock of `other`."""
    lines = [period(meeting, reader.zone)]
    if others_zone != reader.zone:
        lines.append(f"{period(meeting, others_zone)} ({other}’s clock)")
    return "\n".join(f"  {line}" for line in lines)


def called(meeting: Meeting) -> str:
    """What families call it: a one-on-one is a lesson, anything else a meeting."""
    return "lesson" if meeting.offering.is_one_on_one else "meeting"


def listed(words: Sequence[str]) -> str:
    """ "Kit", "Kit and Lark", "Kit, Lark and Posy"."""
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def have(people: Sequence[str]) -> str:
    """The people as the subject of a sentence: "You have", "Posy has", "Kit and Lark have"."""
    said = listed(people)
    return f"{said[0].upper()}{said[1:]} {'has' if len(people) == 1 and people[0] != 'you' else 'have'}"


def whose(people: Sequence[str]) -> str:
    """ "Your", "Posy’s", "Your and Posy’s"."""
    said = listed(["your" if name == "you" else f"{name}’s" for name in people])
    return f"{said[0].upper()}{said[1:]}"


def letter(reader_name: str, paragraphs: Iterable[str], *, changes: str = CHANGES) -> str:
    """A whole message: greeting, paragraphs (empty ones left out), where to change things (no page where that is empty), the school."""
    look = f"To see or change your bookings: {link(changes)}" if changes else ""
    return (
        "\n\n".join(filter(None, [f"Dear {reader_name},", *paragraphs, look, settings.SCHOOL_NAME]))
        + "\n"
    )
