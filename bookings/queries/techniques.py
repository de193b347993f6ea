"""The techniques that a note may look at: an offering's own list, or the usual one."""

from accounts.models import Instructor
from bookings.domain.techniques import PRESETS, Preset
from bookings.models import Meeting, Offering, Technique

USUAL = PRESETS[Preset.STRINGS]
"""The list of an offering for which the school has written none."""


def own_techniques(offering: Offering) -> list[str]:
    """The school's own list for this offering; empty where it has none."""
    rows = Technique.objects.filter(offering=offering).order_by("position", "pk")
    return list(rows.values_list("name", flat=True))


def techniques_of(offering: Offering) -> list[str]:
    """The techniques of an offering, in order: its own list, else the usual one."""
    return own_techniques(offering) or list(USUAL)


def techniques_for(author: Instructor, meeting: Meeting | None = None) -> list[str]:
    """What a note by this author may give bands to: the list of the meeting's offering.

    Without a meeting, the lists of all offerings that the author teaches, one after the other.
    """
    if meeting is not None:
        return techniques_of(meeting.offering)
    rows = Offering.objects.filter(taught_by__instructor=author).prefetch_related("techniques")
    lists = [[row.name for row in offering.techniques.all()] or USUAL for offering in rows]
    names = [name for one in lists for name in one]
    return list(dict.fromkeys(names)) or list(USUAL)


def offerings_with_techniques() -> list[Offering]:
    """Every offering with its `techniques`, by name; two queries."""
    return list(Offering.objects.prefetch_related("techniques"))
