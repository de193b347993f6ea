"""Bodies that come in one of two forms, told apart by a member that only the first has."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from drf_spectacular.utils import PolymorphicProxySerializer
from rest_framework.request import Request

from bookings.api.fields import Strict
from bookings.api.views import body


@dataclass(frozen=True, slots=True)
class EitherForm:
    """A body with `member` is of the form `with_it`, any other of the form `without_it`."""

    name: str
    member: str
    with_it: type[Strict]
    without_it: type[Strict]

    @property
    def described(self) -> PolymorphicProxySerializer:
        """Both, for the schema."""
        return PolymorphicProxySerializer(
            component_name=self.name,
            serializers=[self.with_it, self.without_it],
            resource_type_field_name=None,
        )

    def read(self, request: Request) -> dict[str, Any]:
        """The values of the body, checked by the form that fits it."""
        sent = request.data
        has_it = isinstance(sent, Mapping) and self.member in sent
        return body(request, self.with_it if has_it else self.without_it)
