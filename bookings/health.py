"""Is the process alive; can it serve. For load balancers and people on call; no secrets, no details of an error."""

from collections.abc import Callable

import redis
import structlog
from django.conf import settings
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.urls import URLPattern, path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from bookings import clock, outbox
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import guards
from bookings.queries.retiming import is_due

log = structlog.get_logger(__name__)


@never_cache
@require_safe
def live(request: HttpRequest) -> JsonResponse:
    """200 as long as the process answers at all."""
    return JsonResponse({"alive": True})


@never_cache
@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """200 when everything it stands on is there, else 503.

    Told, but nobody is turned away for it: `oldest_unsent_seconds`, and `retime_due` where meetings ahead were derived by another
    tzdata than the installed one (`manage.py retime`).
    """
    checks = {name: _holds(name, check) for name, check in _CHECKS.items() if name != "broker" or settings.REDIS_URL}
    is_ready = all(checks.values())
    now = clock.now()
    answer = {"ready": is_ready, "checks": checks, "tzdata": TZDATA_VERSION}
    answer["retime_due"] = is_due(now) if is_ready else None
    answer["oldest_unsent_seconds"] = round(outbox.oldest_due(now).total_seconds()) if is_ready else None
    return JsonResponse(answer, status=200 if is_ready else 503)


def _holds(name: str, check: Callable[[], bool]) -> bool:
    try:
        return check()
    except Exception as error:  # whatever is wrong, the answer is: not ready
        log.warning("not ready", check=name, error=type(error).__name__)
        return False


def _database() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
        return bool(cursor.fetchone())


def _migrations() -> bool:
    executor = MigrationExecutor(connection)
    return not executor.migration_plan(executor.loader.graph.leaf_nodes())


def _guards() -> bool:
    return not guards.missing(connection)


def _broker() -> bool:
    with redis.Redis.from_url(settings.REDIS_URL, socket_connect_timeout=2, socket_timeout=2) as client:
        return bool(client.ping())


_CHECKS: dict[str, Callable[[], bool]] = {"database": _database, "migrations": _migrations, "guards": _guards, "broker": _broker}

urlpatterns: list[URLPattern] = [path("live/", live, name="health-live"), path("ready/", ready, name="health-ready")]
