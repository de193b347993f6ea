"""What the schema says of the fields of a request, so that whatever fits it is taken."""

from typing import Any

from rest_framework import serializers

from bookings.api.fields import Text
from bookings.api.time_fields import Day, Instant, InstantOrDay

_YEARS = "^2[01][0-9]{2}-"
_DAY = {"type": "string", "format": "date", "pattern": _YEARS}
_INSTANT = {"type": "string", "format": "date-time", "pattern": _YEARS}
_WALL = {
    "type": "string",
    "pattern": "^2[01][0-9]{2}-(0[1-9]|1[0-2])-(0[1-9]|1[0-9]|2[0-8])"
    "T([01][0-9]|2[0-3]):[0-5][0-9]$",
    "description": "A wall time of the zone that `time_zone` names.",
}


def refine(field: serializers.Field, schema: dict[str, Any]) -> dict[str, Any]:
    """The schema of a field, with what the library does not see."""
    if isinstance(field, Instant):
        return (
            {"anyOf": [_INSTANT, _WALL]} if field.wall else {**schema, **_nullable(field, _INSTANT)}
        )
    if isinstance(field, InstantOrDay):
        return {"anyOf": [_INSTANT, _DAY]}
    if isinstance(field, Day):
        return {**schema, **_nullable(field, _DAY)}
    if isinstance(field, serializers.ListSerializer):
        most = getattr(field, "max_length", None)  # which the library's types do not know
        least = {} if field.allow_empty else {"minItems": 1}
        return {**schema, **least, **({"maxItems": most} if most else {})}
    if isinstance(field, Text):
        return {**schema, "pattern": field.allowed or text_pattern(field)}
    return schema


def _nullable(field: serializers.Field, part: dict[str, Any]) -> dict[str, Any]:
    return {**part, "type": [part["type"], "null"]} if field.allow_null else part


def text_pattern(field: Text) -> str:
    """A pattern (ECMA-262) of what a text field takes.

    It leaves out what the field forbids, and blanks alone unless the field allows them. It does not
    mention halves of surrogate pairs: no text in UTF-8 has them.
    """
    forbidden = "".join(
        char if char.isascii() and char.isprintable() else f"\\u{ord(char):04x}"
        for char in field.forbidden.pattern[1:-1].replace("\ud800-\udfff", "")
    )
    any_of = f"[^{forbidden}]*"
    if field.allow_blank or not field.trim_whitespace:
        return f"^{any_of}$"
    return f"^{any_of}[^\\s{forbidden}]{any_of}$"
