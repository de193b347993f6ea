"""Sign-up is closed: people are invited. allauth serves only sign-in, password reset and the second
factor.
"""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django.contrib.auth.base_user import AbstractBaseUser
from django.http import HttpRequest

from accounts import guesses
from accounts.client_address import client_address


class ClosedDoor(DefaultAccountAdapter):
    """Refuses sign-up and counts guesses of a password."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def authenticate(self, request: HttpRequest, **credentials: Any) -> AbstractBaseUser | None:
        """The user with this email and password, or None. Raises TooManyGuesses."""
        credentials["email"] = self.clean_email(credentials.get("email", ""))
        with guesses.at_password(request, credentials["email"]) as guess:
            user = super().authenticate(request, **credentials)
            guess.is_right = user is not None
        return user

    def get_client_ip(self, request: HttpRequest) -> str:
        return client_address(request)
