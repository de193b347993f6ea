"""What makes a link for a new password work: its key, which ends with whatever ends sessions."""

from typing import Any

from django.contrib.auth.tokens import PasswordResetTokenGenerator


class LinkKeys(PasswordResetTokenGenerator):
    """Django's keys, bound to the epoch of the account's sessions as well.

    A closed account, another address, a new role or a lost second factor ends the links that were
    asked for before; opening the account again brings none back.
    """

    def _make_hash_value(self, user: Any, timestamp: int) -> str:
        return f"{super()._make_hash_value(user, timestamp)}|{user.session_epoch}"
