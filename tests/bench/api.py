"""GET slots/ over stored rows: queries, cost beside its own SQL, and growth from a thousand
meetings to a million.
"""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from statistics import median
from typing import Any
from unittest import mock

from django.db import connection
from knox.models import AuthToken
from rest_framework.test import APIClient

from accounts.models import Student
from bookings.models import Meeting, Offering
from bookings.queries import slots
from tests.bench import databases, stored
from tests.bench.timing import seconds_of

DAYS = 28
Statement = tuple[str, Any]


def a_search() -> Callable[[], Any]:
    """GET slots/ by a student with a token, 50 instructors, 28 days, the limit the API sets by
    itself; checked once.
    """
    student = Student.objects.select_related("user").order_by("pk")[0]
    _, token = AuthToken.objects.create(student.user)
    client = APIClient(headers={"Authorization": f"Bearer {token}"})
    until = stored.NOW + timedelta(days=DAYS)
    asked = {"offering": Offering.objects.get().pk, "to": until.isoformat()}

    def search() -> Any:
        return client.get("/api/v1/slots/", asked)

    response = search()
    if response.status_code != 200 or len(response.json()["results"]) < 200:
        raise AssertionError(response.content[:500])
    return search


@contextmanager
def statements() -> Iterator[list[Statement]]:
    """Every statement sent meanwhile, with its parameters."""
    sent: list[Statement] = []

    def keep(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        sent.append((sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(keep):
        yield sent


def fetch_all(sent: list[Statement]) -> int:
    """The same statements by cursor.fetchall alone; how many rows came."""
    rows = 0
    with connection.cursor() as cursor:
        for sql, params in sent:
            cursor.execute(sql, params)
            rows += len(cursor.fetchall())
    return rows


def one_run(search: Callable[[], Any]) -> tuple[float, float, float, int, int]:
    """Seconds of the whole endpoint, of its solver and of its bare SQL in one run; its queries and
    their rows.
    """
    solving: list[float] = []

    def timed(*args: Any) -> Any:
        began = time.perf_counter()
        found = solver(*args)
        solving.append(time.perf_counter() - began)
        return found

    solver = slots.find_slots
    with statements() as sent, mock.patch.object(slots, "find_slots", timed):
        whole = seconds_of(search)
    rows = fetch_all(sent)
    return whole, sum(solving), seconds_of(lambda: fetch_all(sent)), len(sent), rows


def busy_figures() -> tuple[dict[str, float], dict[str, str]]:
    """On the database in use, which holds 20,000 meetings."""
    search = a_search()
    until = stored.NOW + timedelta(days=DAYS)
    in_window = Meeting.objects.filter(starts_at__gte=stored.NOW, starts_at__lt=until).count()
    if in_window < 5000:
        raise AssertionError(f"only {in_window} meetings in the window")
    found = [one_run(search) for _ in range(16)][1:]
    whole, solving, bare = (median(run[i] for run in found) * 1e3 for i in range(3))
    return {
        "slot_api_queries": max(run[3] for run in found),
        "slot_api_vs_bare_fetch": median((run[0] - run[1]) / run[2] for run in found),
        "slot_api_ms": whole,
    }, {
        "slot_api_queries": "statements of one GET slots/ with a bearer token, sign-in included",
        "slot_api_vs_bare_fetch": (
            f"GET slots/, {stored.INSTRUCTORS} instructors x {DAYS} days, {stored.STUDENTS} "
            f"students, {Meeting.objects.count()} meetings "
            f"stored, {in_window} in the window, through every middleware, less find_slots "
            f"({whole:.1f} - {solving:.1f} ms), over its own "
            f"statements by cursor.fetchall in the same run ({bare:.1f} ms, {found[0][4]} rows: "
            "load reads eight days more on either side)"
        ),
        "slot_api_ms": "the same call, whole",
    }


def growth(small: str, large: str, *, meetings: str) -> tuple[dict[str, float], dict[str, str]]:
    """The same search in both databases in turn; equal rows in the window, so equal answers."""
    answers, searches = [], {}
    for name in (small, large):
        databases.use(name)
        searches[name] = a_search()
        answers.append(searches[name]().json())
    if answers[0] != answers[1]:
        raise AssertionError("the rows outside the window have changed what is found")

    pairs = []
    for _ in range(15):
        pair = []
        for name in (small, large):
            databases.use(name)
            searches[name]()  # the connection and the file's first pages are not what is measured
            pair.append(seconds_of(searches[name]))
        pairs.append(pair)
    return {"slot_growth": median(b / a for a, b in pairs)}, {
        "slot_growth": (
            f"GET slots/, {meetings} meetings, {stored.STUDENTS} students in both, the same rows "
            "in the window: "
            f"{median(a for a, _ in pairs) * 1e3:.1f} and "
            f"{median(b for _, b in pairs) * 1e3:.1f} ms"
        )
    }
