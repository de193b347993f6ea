"""Figures for a monitoring system at /metrics/. requirements/metrics.txt and a METRICS_TOKEN turn
it on.

Figures that the tables hold (bookings, offers, the outbox) are read on request, so any process
answers correctly. Events in a process (requests, refusals, retries, feeds) are counted there. They
are added up over gunicorn's workers in the folder of PROMETHEUS_MULTIPROC_DIR; config/gunicorn.py
makes it. The worker's and beat's own retries are not included. No label holds an id, an address or
a name.
"""

import hmac
import os
import time
from collections.abc import Callable, Iterator
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseNotFound
from django.urls import URLPattern, path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import (
    CONTENT_TYPE_LATEST,
    REGISTRY,
    CollectorRegistry,
    Counter,
    Histogram,
    generate_latest,
)
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.multiprocess import MultiProcessCollector

from bookings import clock, door
from bookings.queries.figures import figures

REQUESTS = Histogram(
    "levare_request_seconds",
    "How long requests took, by route and class of status.",
    ["route", "status"],
    buckets=(0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10),
)
FEEDS = Counter("levare_feed_answers", "Answers to calendars that fetch a feed.", ["status"])
REFUSED = Counter("levare_refusals", "Writes that a rule or a guard refused, by code.", ["code"])
RETRIED = Counter(
    "levare_database_retries",
    "Transactions begun again after a serialization failure or a deadlock.",
)


def _count_refusal(code: str, **_: Any) -> None:
    REFUSED.labels(code).inc()


def _count_retry(**_: Any) -> None:
    RETRIED.inc()


door.refused.connect(_count_refusal)
door.retried.connect(_count_retry)


class Measuring:
    """Middleware that measures how long requests take. Unknown addresses share one route."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        began = time.perf_counter()
        response = self._get_response(request)
        match = request.resolver_match
        route = match.route if match is not None else "nowhere"
        REQUESTS.labels(route, f"{response.status_code // 100}xx").observe(
            time.perf_counter() - began
        )
        if match is not None and match.url_name == "calendar-feed":
            FEEDS.labels(str(response.status_code)).inc()
        return response


class _Tables:
    """The figures from the tables at this moment."""

    def collect(self) -> Iterator[Metric]:
        found = figures(clock.now())
        bookings = GaugeMetricFamily(
            "levare_bookings",
            "Bookings ever made, by standing and why they ended.",
            labels=["standing", "ended"],
        )
        for standing, why, count in found.bookings:
            bookings.add_metric([standing, why], count)
        yield bookings
        for name, told, value in (
            ("offers_open", "Offers that wait for an answer.", found.offered),
            ("offers_lapsed", "Offers that nobody answered in time.", found.lapsed),
            ("outbox_due", "Messages that are due and have not left.", found.due),
            ("outbox_given_up", "Messages given up, which somebody must look at.", found.given_up),
            (
                "outbox_oldest_seconds",
                "How long the message that waits longest has been due.",
                found.oldest_due.total_seconds(),
            ),
        ):
            yield GaugeMetricFamily(f"levare_{name}", told, value)


@never_cache
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """The figures in Prometheus text format for a request with the token; 404 for any other."""
    given = request.headers.get("Authorization", "").removeprefix("Bearer ")
    if not settings.METRICS_TOKEN or not hmac.compare_digest(
        given.encode(), settings.METRICS_TOKEN.encode()
    ):
        return HttpResponseNotFound("Nothing here.\n", content_type="text/plain")
    tables = CollectorRegistry()
    tables.register(_Tables())
    counted = REGISTRY
    if os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        counted = CollectorRegistry()
        MultiProcessCollector(counted)
    return HttpResponse(
        generate_latest(tables) + generate_latest(counted), content_type=CONTENT_TYPE_LATEST
    )


urlpatterns: list[URLPattern] = [path("", metrics, name="metrics")]
