"""What a view allows: how large its form may be, and how often one person may send it."""

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from accounts import counts
from bookings.domain.errors import Refused
from bookings.pages.signed_in import user_of

_SECONDS = {"s": 1, "m": 60, "h": 3600, "d": 86400}
View = Callable[..., HttpResponse]
V = TypeVar("V", bound=Callable[..., object])
_FORM = 100_000
"""Bytes beside the file: the other fields, and the lines between the parts."""


def takes_file(most: int) -> Callable[[V], V]:
    """Allows a form with one file of up to `most` bytes; `config.body_size` reads the mark.

    Every other view takes no more than a form without a file needs.
    """

    def marked(view: V) -> V:
        view.most_bytes = most + _FORM  # type: ignore[attr-defined]
        return view

    return marked


def throttled(scope: str) -> Callable[[View], View]:
    """Limits each person's POSTs to the rate of the API's scope of that name.

    Only for a view behind `login_required`. Refused("too-many-requests").
    """

    def limited(view: View) -> View:
        @wraps(view)
        def counted(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if request.method == "POST":
                _count(scope, user_of(request).pk)
            return view(request, *args, **kwargs)

        return counted

    return limited


def _count(scope: str, whose: int) -> None:
    number, _, unit = settings.REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"][scope].partition("/")
    seconds = _SECONDS[unit[0]]
    if counts.add(f"page:{scope}:{whose}", seconds) > int(number):
        raise Refused(
            "too-many-requests",
            "Too many requests in a short time: wait, then try again.",
            retry_after=seconds,
        )
