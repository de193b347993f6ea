"""Sign-up is closed: people are invited. allauth serves sign-in, password reset and the second factor only."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedDoor(DefaultAccountAdapter):
    """Refuses self sign-up."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
