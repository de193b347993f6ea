"""Forms that cost much: throttled by person, as often as the API's calls of the same scope."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from accounts import counts
from bookings.domain.errors import Refused
from bookings.pages.acting import person

_SECONDS = {"s": 1, "m": 60, "h": 3600, "d": 86400}
View = Callable[..., HttpResponse]


def throttled(scope: str) -> Callable[[View], View]:
    """For a view behind `login_required`: its POSTs are counted. Refused("too-many-requests")."""

    def limited(view: View) -> View:
        @wraps(view)
        def counted(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if request.method == "POST":
                _count(scope, person(request).pk)
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
