"""Counts guesses of passwords and of second factors' codes, and slows them without locking anybody
out.

Strangers are counted by caller and by account. A device that the person has signed in from before
has tries of its own, which strangers cannot use up. A guess is counted before it is checked, so
that many at once gain nothing, and a right one is taken off again. No thread waits: a caller with
too many guesses is told to try again in a minute.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest

from accounts import counts
from accounts.client_address import client_network
from accounts.devices import account_of, number_of_known

MINUTE, DAY = 60, 86400


@dataclass(frozen=True, slots=True)
class Limit:
    """How many wrong guesses a minute may hold: `at_first`, falling to `at_last` on a day with
    many.

    Each `at_first` wrong guesses of a day take one from what a minute may hold.
    """

    name: str
    at_first: int
    at_last: int


DEVICE = Limit("device", 5, 1)
"""One known device at one account."""
CALLER_AT_ACCOUNT = Limit("caller-account", 5, 1)
"""One caller at one account, so that one place alone cannot use up the account's limit."""
ACCOUNT = Limit("account", 20, 5)
"""All strangers at one account's password."""
CODE = Limit("code", 5, 1)
"""All strangers at one account's codes. They have the password already, and a code has six digits
(RFC 4226 section 7.3).
"""


class TooManyGuesses(Exception):
    """The guess is not checked, right or wrong. `retry_after` is in seconds."""

    retry_after = MINUTE
    detail = "There were too many wrong attempts. Wait a minute, then try again."

    def __init__(self) -> None:
        super().__init__(self.detail)


class Guess:
    """One guess while it is checked. The code that checks it sets `is_right`."""

    is_right = False


@contextmanager
def at_password(request: HttpRequest, email: str, *, device: str | None = None) -> Iterator[Guess]:
    """Counts a guess of a password. Raises TooManyGuesses.

    `device` is other evidence of a known device of that account, such as a token's digest.
    """
    account, caller = account_of(email), client_network(request)
    device = device or number_of_known(request, email)
    strangers = [
        (CALLER_AT_ACCOUNT, f"{caller}:{account}"),
        (_caller_limit(), caller),
        (ACCOUNT, account),
    ]
    known = [(DEVICE, f"password:{device}:{account}")]
    with _counted(known if device else strangers) as guess:
        yield guess


@contextmanager
def at_code(request: HttpRequest, email: str, *, device: str | None = None) -> Iterator[Guess]:
    """Counts a guess of a second factor's code by somebody who knows the password.

    Raises TooManyGuesses.

    `device` as in `at_password`.
    """
    account = account_of(email)
    device = device or number_of_known(request, email)
    known = [(DEVICE, f"code:{device}:{account}")]
    with _counted(known if device else [(CODE, account)]) as guess:
        yield guess


def _caller_limit() -> Limit:
    """One caller over all accounts, from the setting.

    It does not fall, since a whole school may share one address.
    """
    return Limit("caller", settings.SIGN_IN_FAILURES, settings.SIGN_IN_FAILURES)


@contextmanager
def _counted(where: Sequence[tuple[Limit, str]]) -> Iterator[Guess]:
    """Counts a guess in each place, the narrowest first: a refusal by one takes nothing from the
    wider ones.
    """
    taken: list[str] = []
    for limit, counted in where:
        key = f"guesses:{limit.name}:{counted}"
        wrong_today: int = cache.get(f"{key}:day", 0)
        allowed = max(limit.at_last, limit.at_first - wrong_today // limit.at_first)
        taken.append(key)
        if counts.add(key, MINUTE) > allowed:
            counts.give_back(taken)
            raise TooManyGuesses
    guess = Guess()
    try:
        yield guess
    finally:
        if guess.is_right:
            counts.give_back(taken)
        else:
            for key in taken:
                counts.add(f"{key}:day", DAY)
