"""A program of the school at the API, with a service token."""

from typing import Any

from accounts.models import User
from bookings.domain.scopes import Scope
from bookings.models import ServiceToken
from bookings.operations.service_tokens import make_service_token
from tests.cast import NOW
from tests.functional.api.client import Api, Reply


class Program(Api):
    """Who asks with a service token of these scopes, made by an admin."""

    def __init__(self, admin: User, *scopes: Scope, days: int = 30) -> None:
        super().__init__()
        self.token: ServiceToken
        self.token, self.secret = make_service_token(
            actor=admin, name="Reception desk", scopes=scopes, days=days, now=NOW
        )

    def ask(self, verb: str, path: str, data: Any = None, **how: Any) -> Reply:
        headers = {"Authorization": f"Bearer {self.secret}", **how.pop("headers", {})}
        return super().ask(verb, path, data, headers=headers, **how)
