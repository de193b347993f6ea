"""The keys in links for a new password. Whatever ends sessions ends them too."""

from typing import Any

from django.contrib.auth.tokens import PasswordResetTokenGenerator


class LinkKeys(PasswordResetTokenGenerator):
    """Django's keys, tied to the session epoch of the account as well.

    A closed account, another address, a new role or a lost second factor ends earlier links.
    Opening the account again does not bring them back.
    """

    def _make_hash_value(self, user: Any, timestamp: int) -> str:
        return f"{super()._make_hash_value(user, timestamp)}|{user.session_epoch}"
