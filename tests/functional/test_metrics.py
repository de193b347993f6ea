"""Figures for a monitoring system: who gets them, what they say, and that they are an extra."""

import os
import subprocess
import sys
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client, RequestFactory, override_settings
from prometheus_client.parser import text_string_to_metric_families

from bookings import clock, door, metrics, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended, Kind, Standing
from bookings.models import OutboxMessage
from bookings.notices.rows import row
from tests import cast
from tests.run import ROOT

pytestmark = [pytest.mark.django_db]
TOKEN = "only-the-monitor-knows-this"


def asked(authorization: str | None = f"Bearer {TOKEN}", token: str = TOKEN) -> HttpResponse:
    headers = {} if authorization is None else {"Authorization": authorization}
    with override_settings(METRICS_TOKEN=token):
        return metrics.metrics(RequestFactory().get("/metrics/", headers=headers))


def figures() -> dict[tuple[str, ...], float]:
    """Every figure by its name and the values of its labels."""
    text = asked().content.decode()
    return {
        (one.name, *one.labels.values()): one.value
        for family in text_string_to_metric_families(text)
        for one in family.samples
    }


@pytest.mark.parametrize(
    "authorization", [None, "", "Bearer ", "Bearer wrong", f"Bearer {TOKEN}x", "Bearer räume"]
)
def test_without_the_token_there_is_nothing(authorization: str | None) -> None:
    """Whoever does not bring the token finds the same as where there is no such address."""
    answer = asked(authorization)
    assert (answer.status_code, answer.content) == (404, b"Nothing here.\n")


@pytest.mark.parametrize("authorization", [None, "", "Bearer "])
def test_no_token_lets_nobody_in(authorization: str | None) -> None:
    """An empty setting is no password."""
    assert asked(authorization, token="").status_code == 404


def make_bookings(now: datetime) -> None:
    """One held, one offered whose time to answer is over, one that lapsed."""
    cast.make_policy()
    group, ilse = cast.make_offering("Studio class", Kind.GROUP_MEETING, 50), cast.make_instructor()
    meeting = cast.make_meeting(group, ilse, now, places=9)
    cast.make_booking(meeting, cast.make_student("Noor Ashgrove"))
    offered = {"standing": Standing.OFFERED, "answer_by": now}
    cast.make_booking(meeting, cast.make_student("Marlo Vance"), **offered)
    ended = {"standing": Standing.ENDED, "ended_at": now, "ended_why": Ended.LAPSED}
    cast.make_booking(meeting, cast.make_student("Teodor Blythe"), **ended)


def make_messages(now: datetime) -> None:
    """Two that are due since seven and three minutes, one that is due in an hour, one given up and
    one sent.
    """
    reader, told = cast.make_user(), outbox.MessageKind.TOLD
    for minutes, state in ((7, "due"), (3, "due"), (-60, "due"), (9, "given-up"), (9, "sent")):
        due_at = now - timedelta(minutes=minutes)
        message = row(reader, told, f"{minutes} {state}", "x", title="x", body="x", now=due_at)
        message.state = OutboxMessage.State(state)
        message.save()


def test_figures_of_the_tables() -> None:
    """Bookings, open and lapsed offers, and what the outbox holds, as the tables have them at this
    moment.
    """
    now = clock.now()
    make_bookings(now)
    make_messages(now)
    told = figures()
    assert (
        told["levare_bookings", "", "HELD"]
        == told["levare_bookings", "", "OFFERED"]
        == told["levare_bookings", "lapsed", "ENDED"]
        == 1
    )
    assert (told["levare_offers_open",], told["levare_offers_lapsed",]) == (1, 1)
    assert (told["levare_outbox_due",], told["levare_outbox_given_up",]) == (2, 1)
    assert 420 <= told["levare_outbox_oldest_seconds",] < 480


def test_refusals_and_retries_are_counted() -> None:
    """By their code, whichever interface made them."""

    def refuse() -> None:
        raise Refused("taken", "That time has just been taken.")

    before = figures().get(("levare_refusals_total", "taken"), 0)
    with pytest.raises(Refused):
        door.write(refuse, now=clock.now())
    door.retried.send_robust(sender=None)
    told = figures()
    assert told["levare_refusals_total", "taken"] == before + 1
    assert told["levare_database_retries_total",] >= 1


def test_requests_by_route_and_class(settings: Any) -> None:
    """An id, a secret or a made-up address is no label: the route's pattern is, and the class of
    the status.
    """
    settings.MIDDLEWARE = ["bookings.metrics.Measuring", *settings.MIDDLEWARE]
    client = Client()
    for path in (
        "/health/live/",
        "/calendar/a-secret-of-somebody.ics",
        "/api/v1/bookings/4711/",
        "/no/such/place/4711",
    ):
        client.get(path)
    told = figures()
    assert told["levare_request_seconds_count", "health/live/", "2xx"] == 1
    assert told["levare_request_seconds_count", "calendar/<str:secret>.ics", "4xx"] == 1
    assert told["levare_request_seconds_count", "api/v1/bookings/<id:pk>/", "4xx"] == 1
    assert told["levare_feed_answers_total", "404"] == 1
    assert "4711" not in str(told) and "a-secret-of-somebody" not in str(told)


WITHOUT = """
import sys
sys.modules["prometheus_client"] = None  # as where it is not installed
import django
django.setup()
from django.core.checks import run_checks
from django.test import Client
from django.urls import Resolver404, resolve
try:
    resolve("/metrics/")
except Resolver404:
    print("no address", *[one.id for one in run_checks() if one.id.startswith("bookings.")])
"""


@pytest.mark.parametrize(
    ("token", "told"), [(TOKEN, "no address bookings.W003"), ("", "no address")]
)
def test_it_is_an_extra(token: str, told: str) -> None:
    """Without the library there is no address, and a token that does nothing is pointed out; all
    else starts as ever.
    """
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "LEVARE_PROFILE": "test",
        "METRICS_TOKEN": token,
    }
    ran = subprocess.run(
        [sys.executable, "-c", WITHOUT],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.stdout.strip() == told, ran.stderr
