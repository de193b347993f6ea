"""Text and numbers as they come in.

Each field refuses what the rules below it could never accept, with the code that says why.
"""

import re
from collections.abc import Mapping
from typing import Any, ClassVar

from drf_spectacular.drainage import set_override
from rest_framework import serializers

# C0 and C1 controls except tab and newline, the line separators at which some readers break, the
# byte order mark, which some drop, and halves of surrogate pairs.
_CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufeff\ud800-\udfff]")
_DIGITS = re.compile(r"\d{1,16}", re.ASCII)


class Wired(serializers.Serializer):
    """`wire` renames: a field goes by that name on the wire, which may be a word of Python."""

    wire: ClassVar[Mapping[str, str]] = {}

    def get_fields(self) -> dict[str, serializers.Field]:
        named = {}
        for name, field in super().get_fields().items():
            outside = self.wire.get(name, name)
            if outside != name:
                field.source = name
            named[outside] = field
        return named


class Strict(Wired):
    """Fields of a request. An unknown field is refused, so that nothing is lost in silence."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping):
            unknown = [
                name for name in data if name not in self.fields or self.fields[name].read_only
            ]
            if unknown:
                raise serializers.ValidationError(
                    {str(name): ["This is not known here: leave it out."] for name in unknown}
                )
        return super().to_internal_value(data)


class Text(serializers.CharField):
    """Text without control characters; only a string is one."""

    forbidden = _CONTROLS
    allowed = ""
    """A pattern of what is taken, where that is narrower than what is not forbidden."""
    default_error_messages = {
        "control-characters": "Leave out control characters; only tab and newline are kept.",
        "too-long": "Shorten this to {max_length} characters.",
    }

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        if self.forbidden.search(data):
            self.fail("control-characters")
        text: str = super().to_internal_value(data)
        if self.max_length is not None and len(text) > self.max_length:
            self.fail("too-long", max_length=self.max_length)
        return text


class FileText(Text):
    """A whole file. Its line ends stay, and whoever reads the file says what is wrong with it."""

    forbidden = re.compile("[\x00\ud800-\udfff]")


class Line(Text):
    """One line of text."""

    forbidden = re.compile(_CONTROLS.pattern[:-1] + "\t\n]")
    default_error_messages = {
        "control-characters": "Write this on one line, without control characters."
    }


class Whole(serializers.IntegerField):
    """A whole number in a JSON body: 3, not "3" or true.

    3.0 is one too. It is the same number in JSON, and JSON Schema (2020-12, validation 6.1.1) calls
    it an integer.
    """

    def to_internal_value(self, data: Any) -> int:
        whole = int(data) if isinstance(data, float) and data.is_integer() else data
        if isinstance(whole, bool) or not isinstance(whole, int):
            self.fail("invalid")
        number: int = super().to_internal_value(whole)
        return number


class Stepped(Whole):
    """A multiple of `step` between two numbers, both included."""

    step = 1
    default_error_messages = {"step": "Send a multiple of {step}."}

    def __init__(self, least: int, most: int, **options: Any) -> None:
        super().__init__(min_value=least, max_value=most, **options)
        shape = {"type": "integer", "minimum": least, "maximum": most, "multipleOf": self.step}
        set_override(self, "field", shape)

    def to_internal_value(self, data: Any) -> int:
        number = super().to_internal_value(data)
        if number % self.step:
            self.fail("step", step=self.step)
        return number


class FiveMinutes(Stepped):
    """So many minutes, in steps of five."""

    step = 5


class TwoWeeks(Stepped):
    """So many weeks, in steps of two."""

    step = 2


class Id(Whole):
    """The id of something."""

    def __init__(self, **options: Any) -> None:
        super().__init__(min_value=1, max_value=2**53 - 1, **options)


class AskedWhole(serializers.IntegerField):
    """A whole number in a query string: digits alone."""

    def to_internal_value(self, data: Any) -> int:
        if not isinstance(data, str) or not _DIGITS.fullmatch(data):
            self.fail("invalid")
        number: int = super().to_internal_value(data)
        return number


class AskedId(AskedWhole):
    """The id of something, in a query string."""

    def __init__(self, **options: Any) -> None:
        super().__init__(min_value=1, max_value=2**53 - 1, **options)


class AskedFlag(serializers.BooleanField):
    """true or false in a query string, in small letters."""

    def to_internal_value(self, data: Any) -> bool:
        if data not in ("true", "false"):
            self.fail("invalid", input=data)
        return bool(data == "true")


class Search(Line):
    """Words of which each has to be found."""

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=80, **options)


class TrueOrFalse(serializers.BooleanField):
    """true or false in a JSON body: not "yes", "true" or 1."""

    def to_internal_value(self, data: Any) -> bool:
        if not isinstance(data, bool):
            self.fail("invalid", input=data)
        return data
