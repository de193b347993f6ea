"""A form that makes something is obeyed once, however often its button is pressed.

Such a form carries a random number (`{% form_number %}`). A second POST with it is refused, and the
form that is shown then has a number of its own, so whoever means it presses once more. The API has
its Idempotency-Key for this.
"""

from collections.abc import Callable
from datetime import datetime
from typing import TypeVar

from django.http import HttpRequest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.kept_answers import claim_answer
from bookings.pages.signed_in import user_of

T = TypeVar("T")
FIELD = "form_number"
_LONGEST = 40


def write_once(request: HttpRequest, act: Callable[[], T], *, now: datetime) -> T:
    """`door.write`, once for each number. Refused("already-done") for a form that was sent before.

    What is refused for another reason may be sent again.
    """
    number = request.POST.get(FIELD, "")[:_LONGEST]

    def once() -> T:
        row = claim_answer(
            user_of(request),
            method="POST",
            path=request.path,
            key=f"form {number}",
            fingerprint="",
            now=now,
        )
        if row.status:
            raise Refused(
                "already-done",
                "This form was sent a moment ago, and what it asks for is done. Press the button"
                " again only to do the same once more.",
            )
        result = act()
        row.status = 302
        row.save()
        return result

    return write(once if number.isalnum() else act, now=now)
