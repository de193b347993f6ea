"""Times and names in emails, and the frame of an email. The reader's zone comes first."""

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime

from django.conf import settings

from accounts.models import User
from bookings.domain.zones import place, zone
from bookings.models import Meeting

CHANGES = "/my-lessons/"
TEACHING = "/"  # shows an instructor their own day


def link(path: str) -> str:
    """The full address of a page."""
    return f"{settings.BASE_URL}{path}"


def period(meeting: Meeting, time_zone: str) -> str:
    """ "Monday 15 March 2027, 17:00–17:25, New York"; with the offset in a repeated hour."""
    start = meeting.starts_at.astimezone(zone(time_zone))
    end = meeting.ends_at.astimezone(zone(time_zone))
    day, hours = f"{start:%A} {start.day} {start:%B %Y}", f"{start:%H:%M}–{end:%H:%M}"
    return f"{day}, {hours}, {place(time_zone)}{_offset(start)}"


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
    """The sentence about a cancellation deadline, the same everywhere."""
    return f"You can cancel free of charge until {full_time(instant, time_zone)}."


def not_certain(meeting: Meeting, time_zone: str) -> str:
    """That a meeting with a minimum to run is not certain yet; empty for any other."""
    if not meeting.is_undecided or meeting.decide_by is None:
        return ""
    return (
        f"This meeting is not certain yet: it runs with at least {players(meeting.minimum or 0)}. "
        f"It is decided by {full_time(meeting.decide_by, time_zone)}, and everybody with a place "
        "gets an email."
    )


def players(count: int) -> str:
    """ "1 player", "3 players"."""
    return f"{count} player{'' if count == 1 else 's'}"


def _offset(local: datetime) -> str:
    """ " (UTC-0400)" in a repeated hour, where only the offset tells the two apart; else empty."""
    repeated = local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()
    return f" (UTC{local:%z})" if repeated and local.tzinfo is not UTC else ""


def both_clocks(meeting: Meeting, reader: User, others_zone: str, other: str) -> str:
    """The period in the reader's zone and, where it differs, in the zone of `other`, a name."""
    lines = [period(meeting, reader.zone)]
    if others_zone != reader.zone:
        lines.append(f"{period(meeting, others_zone)} ({other}’s clock)")
    return "\n".join(f"  {line}" for line in lines)


def called(meeting: Meeting) -> str:
    """ "lesson" for a one-on-one, "meeting" for anything else."""
    return "lesson" if meeting.offering.is_one_on_one else "meeting"


def listed(words: Sequence[str]) -> str:
    """ "Kit", "Kit and Lark", "Kit, Lark and Posy"."""
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def sentences(*said: str) -> str:
    """These sentences as one paragraph, without the empty ones."""
    return " ".join(filter(None, said))


def have(people: Sequence[str]) -> str:
    """The people as the subject of a sentence: "You have", "Posy has", "Kit and Lark have"."""
    said = listed(people)
    is_singular = len(people) == 1 and people[0] != "you"
    return f"{said[0].upper()}{said[1:]} {'has' if is_singular else 'have'}"


def possessive(people: Sequence[str]) -> str:
    """ "Your", "Posy’s", "Your and Posy’s"."""
    said = listed(["your" if name == "you" else f"{name}’s" for name in people])
    return f"{said[0].upper()}{said[1:]}"


def email_text(reader_name: str, paragraphs: Iterable[str], *, changes: str = CHANGES) -> str:
    """A whole email: greeting, paragraphs, a link to the page `changes`, the school's name.

    Empty paragraphs are left out, and so is the link where `changes` is empty.
    """
    look = f"To see or change your bookings: {link(changes)}" if changes else ""
    return (
        "\n\n".join(filter(None, [f"Dear {reader_name},", *paragraphs, look, settings.SCHOOL_NAME]))
        + "\n"
    )
