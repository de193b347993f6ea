"""Every column that holds sealed text, found from the models."""

import base64
import binascii
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from allauth.mfa.models import Authenticator
from django.apps import apps
from django.db.models import BinaryField, Model, Q, QuerySet

from accounts.second_factor import BOUND_TO


@dataclass(frozen=True, slots=True)
class SealedColumn:
    """One column of one table whose bytes `accounts.sealed` made."""

    model: type[Model]
    name: str

    @property
    def label(self) -> str:
        """ "bookings.Intake.sealed_hurts"."""
        return f"{self.model._meta.label}.{self.name}"

    def rows(self) -> QuerySet[Any]:
        """The rows that hold sealed text, by id."""
        rows = self.model._default_manager.order_by("pk")
        return rows.exclude(Q(**{self.name: b""}) | Q(**{f"{self.name}__isnull": True}))

    def texts(self, row: Any) -> dict[str, tuple[bytes, str]]:
        """The sealed texts of a row by name, each with what it is bound to."""
        return {self.name: (bytes(getattr(row, self.name)), row.bound_to())}

    def set(self, row: Any, name: str, sealed: bytes) -> None:
        """Puts a text that was sealed again into its place in the row, which is not saved."""
        setattr(row, name, sealed)


class SealedFactors(SealedColumn):
    """The secrets of second factors, which the library keeps as text in one JSON column.

    An app has one "secret", a set of recovery codes one "seed".
    """

    __slots__ = ()

    def rows(self) -> QuerySet[Any]:
        return Authenticator.objects.exclude(type=Authenticator.Type.WEBAUTHN).order_by("pk")

    def texts(self, row: Any) -> dict[str, tuple[bytes, str]]:
        kept = {name: row.data.get(name) for name in ("secret", "seed")}
        return {name: (_bytes(text), BOUND_TO) for name, text in kept.items() if text}

    def set(self, row: Any, name: str, sealed: bytes) -> None:
        row.data[name] = base64.b64encode(sealed).decode()


def sealed_columns() -> Iterable[SealedColumn]:
    """Every sealed column: each binary one of any model, and the second factors.

    A model with a binary column has a method `bound_to`, which says what the text is bound to.
    """
    for model in apps.get_models():
        for field in model._meta.concrete_fields:
            if isinstance(field, BinaryField):
                yield SealedColumn(model, field.name)
    yield SealedFactors(Authenticator, "data")


def _bytes(text: str) -> bytes:
    """The stored text as bytes; none that any key opens where it was not sealed."""
    try:
        return base64.b64decode(text, validate=True)
    except binascii.Error:
        return b"-"
