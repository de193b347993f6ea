"""Answers, declared once: the same fields render an answer and describe it in the schema."""

from collections.abc import Callable, Iterable
from datetime import datetime
from functools import cached_property
from operator import attrgetter
from typing import Any, cast

from drf_spectacular.utils import inline_serializer
from rest_framework import serializers

from accounts.models import User
from bookings.api.fields import Wired
from bookings.api.time_fields import Clock
from bookings.domain.timeline import rfc3339
from bookings.domain.zones import zone

# JSON has these as they are; the library would look at each value once more.
_AS_THEY_ARE = (
    serializers.BooleanField,
    serializers.CharField,
    serializers.ChoiceField,
    serializers.DictField,
    serializers.IntegerField,
)


class Output(Wired):
    """The fields of an answer.

    A field shows the attribute that its `source` names, or what the method `get_` and its name
    makes of the row. None is shown as null. The library's own rendering takes four times as long.
    """

    @classmethod
    def of(cls, row: Any, *, reader: User | None = None, **context: Any) -> dict[str, Any]:
        """One row as this reader is shown it; the classes say what else they need in `context`."""
        return cls(context={"reader": reader, **context}).to_representation(row)

    @classmethod
    def of_all(
        cls, rows: Iterable[Any], *, reader: User | None = None, **context: Any
    ) -> list[dict[str, Any]]:
        """The same of many rows."""
        one = cls(context={"reader": reader, **context})
        return [one.to_representation(row) for row in rows]

    @cached_property
    def reader(self) -> User:
        """Who reads the answer."""
        return cast(User, self.context["reader"])

    @cached_property
    def reader_zone(self) -> str:
        """The IANA name of the clock on which the answer says local times."""
        return str(self.context.get("time_zone") or self.reader.zone)

    def to_representation(self, instance: Any) -> dict[str, Any]:
        return {name: show(instance) for name, show in self._shown}

    @cached_property
    def _shown(self) -> list[tuple[str, Callable[[Any], Any]]]:
        attributes = {on_the_wire: name for name, on_the_wire in self.wire.items()}
        return [
            (name, self._show(field, attributes.get(name, name)))
            for name, field in self.fields.items()
        ]

    def _show(self, field: serializers.Field, attribute: str) -> Callable[[Any], Any]:
        source = str(field.source)
        plain = _itself if source == "*" else attrgetter(source)
        read = getattr(self, f"get_{attribute}", plain)
        if type(field) in _AS_THEY_ARE:
            return cast(Callable[[Any], Any], read)
        represent = field.to_representation

        def show(row: Any) -> Any:
            value = read(row)
            return None if value is None else represent(value)

        return show


def _itself(row: Any) -> Any:
    return row


class ZoneName(serializers.CharField):
    """The IANA name of a zone."""


class Utc(serializers.DateTimeField):
    """An instant in UTC, as RFC 3339 with Z."""

    def to_representation(self, value: datetime) -> str:
        return rfc3339(value)


class Local(serializers.DateTimeField):
    """An instant on the reader's clock, as RFC 3339 with its offset."""

    def to_representation(self, value: datetime) -> str:
        return local(value, cast(Output, self.parent).reader_zone)


class WallText(Clock):
    """A wall time that is "HH:MM" already."""

    def to_representation(self, value: str) -> str:  # type: ignore[override]
        return value


def local(instant: datetime, time_zone: str) -> str:
    """The instant on that wall clock, as RFC 3339 with its offset."""
    return instant.astimezone(zone(time_zone)).isoformat()


def utc(instant: datetime | None) -> str | None:
    """The instant in UTC, as RFC 3339 with Z; None stays None."""
    return None if instant is None else rfc3339(instant)


def listed(output: type[Output]) -> serializers.Serializer:
    """The schema of a list that is short enough to be sent whole."""
    fields: dict[str, serializers.Field] = {"results": output(many=True)}
    return inline_serializer(output.__name__.removesuffix("Output") + "List", fields)


def paged(output: type[Output]) -> serializers.Serializer:
    """The schema of one cursor page."""
    fields: dict[str, serializers.Field] = {
        "next": serializers.URLField(allow_null=True),
        "previous": serializers.URLField(allow_null=True),
        "results": output(many=True),
    }
    return inline_serializer(output.__name__.removesuffix("Output") + "Page", fields)
