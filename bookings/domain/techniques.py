"""What an assessment looks at: techniques, and bands from 1 to 4 with words.

Exam boards judge what is heard. A consultation judges the means, so a school needs a list of its
own (common practice). These lists are places to start from.
"""

from collections.abc import Collection, Mapping
from enum import StrEnum

from bookings.domain.errors import Refused

BAND_WORDS: Mapping[int, str] = {1: "beginning", 2: "growing", 3: "steady", 4: "free"}
MOST_TECHNIQUES = 16
LONGEST_NAME = 40


class Preset(StrEnum):
    """Families of instruments for which a list exists."""

    STRINGS = "strings"
    KEYS = "keys"
    WINDS = "winds"
    VOICE = "voice"
    PERCUSSION = "percussion"


PRESETS: Mapping[Preset, tuple[str, ...]] = {
    Preset.STRINGS: (
        "posture",
        "hand shape",
        "finger closing",
        "placing",
        "tone",
        "damping",
        "levers and pedals",
        "reading",
        "rhythm",
        "memory",
        "ease",
    ),
    Preset.KEYS: (
        "posture",
        "hand shape",
        "finger independence",
        "touch and tone",
        "pedalling",
        "hands together",
        "reading",
        "rhythm",
        "memory",
        "ease",
    ),
    Preset.WINDS: (
        "posture",
        "breath",
        "embouchure",
        "articulation",
        "tone",
        "intonation",
        "finger coordination",
        "reading",
        "rhythm",
        "ease",
    ),
    Preset.VOICE: (
        "posture",
        "breath",
        "onset",
        "resonance",
        "intonation",
        "diction",
        "range",
        "reading",
        "rhythm",
        "ease",
    ),
    Preset.PERCUSSION: (
        "posture",
        "grip",
        "stroke and rebound",
        "hand balance",
        "tone",
        "coordination",
        "pulse",
        "reading",
        "memory",
        "ease",
    ),
}


def checked_names(names: Collection[str]) -> list[str]:
    """The names of a list, without blanks around them.

    Refused("invalid") for an empty list, more than 16 names, a name twice or over 40 characters.
    """
    found = [" ".join(name.split()) for name in names if name.strip()]
    if not 1 <= len(found) <= MOST_TECHNIQUES:
        raise Refused("invalid", "Name between 1 and 16 techniques.", field="techniques")
    if any(len(name) > LONGEST_NAME for name in found):
        raise Refused("invalid", "Use at most 40 characters for a technique.", field="techniques")
    if len({name.casefold() for name in found}) < len(found):
        raise Refused("invalid", "Name each technique once.", field="techniques")
    return found


def check_bands(bands: Mapping[str, int], names: Collection[str]) -> None:
    """Refused("invalid") for a technique that is not in the list, or a band outside 1 to 4."""
    if set(bands) - set(names) or any(band not in BAND_WORDS for band in bands.values()):
        raise Refused("invalid", f"Bands run from 1 to 4 for: {', '.join(names)}.", field="bands")
