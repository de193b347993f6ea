"""The words that a guardian agrees to: one sentence a line, with places for what differs from child to child."""

from collections.abc import Sequence
from string import Formatter

from bookings.domain.errors import Refused

DEFAULT = (
    "Lessons are live, by video, one to one or in a group, between {opens} and {closes} on {child}’s own clock.",
    "You, or an adult you trust, are at home during each lesson, and may sit in on any of them.",
    "Invitations, changes and assessments come to you. Nobody at the school writes to {child} alone.",
    "The school keeps {child}’s name, level, lessons and assessments. Other families see a first name at most.",
    "No lesson is recorded unless everybody in it has agreed to that lesson’s recording.",
    "You may withdraw this consent at any time by writing to the school.",
)
"""What a school asks that has published no words of its own."""
PLACES = ("child", "opens", "closes", "school")


def sentences_of(text: str) -> list[str]:
    """The sentences of a text, one a line. Refused("invalid") for a text without any, or with a place that nothing fills."""
    sentences = [line.strip() for line in text.splitlines() if line.strip()]
    if not sentences:
        raise Refused("invalid", "Write at least one sentence.", field="text")
    if not all(_is_readable(sentence) for sentence in sentences):
        known = ", ".join(f"{{{place}}}" for place in PLACES)
        raise Refused("invalid", f"Braces stand only around these: {known}.", field="text")
    return sentences


def _is_readable(sentence: str) -> bool:
    try:
        parts = list(Formatter().parse(sentence))
    except ValueError:
        return False
    return all(
        name is None or (name in PLACES and not spec and conversion is None)
        for _, name, spec, conversion in parts
    )


def filled(sentences: Sequence[str], **values: str) -> list[str]:
    """The same sentences about one child."""
    return [sentence.format(**values) for sentence in sentences]


def clock(minutes: int) -> str:
    """A minute of the day as a clock shows it: "08:00"."""
    return f"{minutes // 60:02}:{minutes % 60:02}"
