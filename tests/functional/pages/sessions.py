"""Whether a session and a token still let somebody in."""

from django.test import Client
from knox.models import AuthToken

from accounts.models import User


def reads_me(client: Client) -> bool:
    """Whether the browser is signed in."""
    return client.get("/me/").status_code == 200


def token_of(user: User) -> str:
    """A token of the API, made as the library makes them."""
    return AuthToken.objects.create(user)[1]


def is_let_in(token: str) -> bool:
    """Whether the API knows the token."""
    answer = Client().get("/api/v1/me/", headers={"Authorization": f"Bearer {token}"})
    return answer.status_code == 200
