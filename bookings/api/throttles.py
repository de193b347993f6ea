"""How often one person or one caller may ask: the framework's throttles, with the house's one
reading of a caller's address."""

from typing import Any

from rest_framework import throttling

from accounts.client_address import client_network
from accounts.devices import device_of
from bookings.models import ServiceToken


class _ByCaller(throttling.SimpleRateThrottle):
    def get_ident(self, request: Any) -> str:
        return client_network(request)


class ScopedRate(_ByCaller, throttling.ScopedRateThrottle):
    """The calls of one scope, by person."""


class AnonRate(_ByCaller, throttling.AnonRateThrottle):
    """All calls of one caller who has not signed in."""


class UserRate(_ByCaller, throttling.UserRateThrottle):
    """All calls of one person, or of one service token."""

    def get_cache_key(self, request: Any, view: Any) -> str | None:
        if isinstance(request.auth, ServiceToken):
            ident = f"service-token:{request.auth.pk}"
            return str(self.cache_format % {"scope": self.scope, "ident": ident})
        return super().get_cache_key(request, view)


class SignInRate(AnonRate):
    """Sign-ins of one caller, right ones too: a password costs time to check. Somebody's own device
    is a caller of its own."""

    def get_ident(self, request: Any) -> str:
        device = device_of(request)
        return super().get_ident(request) if device is None else f"device:{device.number}"
