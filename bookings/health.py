"""Whether the process is alive and can serve, for load balancers and people on call.

No secrets, no addresses, no details of an error.
"""

import threading
import time
from collections.abc import Callable
from datetime import timedelta
from functools import cache
from typing import Any

import redis
import structlog
from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.urls import URLPattern, path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from bookings import checks, clock, outbox
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import guards
from bookings.queries.retiming import is_due

log = structlog.get_logger(__name__)

LATE = timedelta(minutes=15)
"""A message due for longer is late: a person should look at the worker and the mail server."""
OK, FAILED, AWAY = "ok", "failed", "away"
KEPT_SECONDS = 2.0
"""How long this process repeats its last answer: anybody may ask, and checking costs queries."""
_one_at_a_time = threading.Lock()
_kept: tuple[float, int, dict[str, Any]] | None = (
    None  # until when, by the monotonic clock; the status; the answer
)


@never_cache
@require_safe
def live(request: HttpRequest) -> JsonResponse:
    """200 as long as the process answers at all."""
    return JsonResponse({"alive": True})


@never_cache
@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """200 if everything that the product needs is "ok", else 503 and the names of what "failed".

    `broker` is "ok" or "away"; bookings go on without it. `mail` is "on time", "late" or "some
    given up", or "unknown" if the tables cannot be read. `retime_due` is true if another tzdata
    than the installed one derived meetings ahead (`manage.py retime`). None of these three makes it
    503: a person has to mend them.
    """
    global _kept
    with _one_at_a_time:
        if _kept is None or time.monotonic() >= _kept[0]:
            _kept = (time.monotonic() + KEPT_SECONDS, *_looked())
        _, status, answer = _kept
    return JsonResponse(answer, status=status)


def forget() -> None:
    """Makes the next request check again."""
    global _kept
    _kept = None


def _looked() -> tuple[int, dict[str, Any]]:
    """The status, and the answer."""
    told = {name: _word(name, check) for name, check in _CHECKS.items()}
    failed = [name for name, word in told.items() if word == FAILED]
    readable = OK == told["database"] == told["migrations"]
    mail, seconds, given_up = _mail() if readable else ("unknown", None, None)
    broker = {"broker": _broker()} if settings.REDIS_URL else {}
    answer = {
        "ready": not failed,
        "failed": failed,
        "checks": {**told, **broker, "mail": mail},
        "profile": settings.PROFILE,
        "tzdata": TZDATA_VERSION,
        "retime_due": is_due(clock.now()) if readable else None,
        "oldest_unsent_seconds": seconds,
        "given_up_in_a_week": given_up,
    }
    return (503 if failed else 200), answer


def _word(name: str, check: Callable[[], bool]) -> str:
    try:
        return OK if check() else FAILED
    except Exception as error:  # whatever is wrong, the process is not ready
        log.warning("not ready", check=name, error=type(error).__name__)
        return FAILED


def _database() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
        return bool(cursor.fetchone())


def _migrations() -> bool:
    executor = MigrationExecutor(connection)
    return not executor.migration_plan(executor.loader.graph.leaf_nodes())


def _guards() -> bool:
    return not guards.missing(connection)


def _time_zones() -> bool:
    return not checks.one_time_zone_database()


def _static_files() -> bool:
    """Whether static files are collected: every page names the stylesheet and would fail without
    it.
    """
    return all(staticfiles_storage.url(name) for name in _static_names())


@cache
def _static_names() -> tuple[str, ...]:
    """The names of all static files of this code, read once."""
    return tuple(name for finder in get_finders() for name, _ in finder.list([]))


def _broker() -> str:
    try:
        with redis.Redis.from_url(
            settings.REDIS_URL, socket_connect_timeout=2, socket_timeout=2
        ) as client:
            client.ping()
    except Exception as error:  # however it is away, requests are still served
        log.warning("the broker is away", error=type(error).__name__)
        return AWAY
    return OK


def _mail() -> tuple[str, int, int]:
    """A word for the mail, how many seconds the oldest message has waited, and how many were given
    up in a week.
    """
    now = clock.now()
    age, given_up = outbox.oldest_due(now), outbox.given_up_lately(now).count()
    word = "on time"
    if given_up:
        word = "some given up"
    if age > LATE:
        word = "late"
    return word, round(age.total_seconds()), given_up


_CHECKS: dict[str, Callable[[], bool]] = {
    "database": _database,
    "migrations": _migrations,
    "guards": _guards,
    "time zones": _time_zones,
    "static files": _static_files,
}

urlpatterns: list[URLPattern] = [
    path("live/", live, name="health-live"),
    path("ready/", ready, name="health-ready"),
]
