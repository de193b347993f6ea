"""The words that a guardian agrees to: one sentence a line, with placeholders for the child's own
values.
"""

from collections.abc import Sequence
from string import Formatter

from bookings.domain.errors import Refused

DEFAULT = (
    "Lessons are live, by video, one to one or in a group, between {opens} and {closes} on "
    "{child}’s own clock.",
    "You, or an adult you trust, are at home during each lesson, and may sit in on any of them.",
    "Invitations, changes and assessments come to you. Nobody at the school writes to {child} "
    "alone.",
    "The school keeps {child}’s name, level, lessons and assessments. Other families see a first "
    "name at most.",
    "No lesson is recorded unless everybody in it has agreed to that lesson’s recording.",
    "You may withdraw this consent at any time by writing to the school.",
)
"""The words of a school that has published none of its own."""
PLACES = ("child", "opens", "closes", "school")


def sentences_of(text: str) -> list[str]:
    """The sentences of a text, one a line.

    Refused("invalid") for a text without a sentence, and for an unknown placeholder.
    """
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
    """The sentences with the child's values in place of the placeholders."""
    return [sentence.format(**values) for sentence in sentences]
