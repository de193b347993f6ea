"""How often a page asks the database: at most twelve times, whoever opens it, however many people
and meetings there are.
"""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from accounts.models import Welcome, digest
from bookings.models import Booking, Meeting, Offering, Term
from tests.cast import NOW
from tests.functional.pages.full_school import fill
from tests.functional.pages.matrix import addresses
from tests.functional.pages.school import School, as_user
from tests.functional.routes import every_route

MOST = 12
TRANSACTION = re.compile(r"^(SAVEPOINT|RELEASE|BEGIN|COMMIT)")


def asked(client: Client, address: str, query: dict[str, Any] | None = None) -> tuple[int, int]:
    """Status and number of statements of one GET, the session's and the user's among them."""
    with CaptureQueriesContext(
        connection,
    ) as seen:
        response = client.get(address, query or {})
    statements = [row["sql"] for row in seen if not TRANSACTION.match(row["sql"])]
    return response.status_code, len(statements)


@pytest.fixture
def full(school: School) -> School:
    fill(school)
    return school


def everything(school: School) -> list[tuple[str, dict[str, Any]]]:
    """Every address of the URLconf that a person may open, with what it needs to know."""
    places = addresses(school)
    asks = {
        "student": school.noor.pk,
        "offering": school.consultation.pk,
        "starts_at": "2027-03-15T16:00:00Z",
        "instructor": school.ilse.pk,
    }
    weekly = {
        "term": Term.objects.get().pk,
        "offering": Offering.objects.get(kind="private-lesson").pk,
        "weekday": 1,
        "wall_at": 1140,
    }
    child = {"student": school.posy.pk}
    more: list[tuple[str, dict[str, Any]]] = [
        (places["book"], asks),
        (places["why"], {**asks, "on": "2027-03-15"}),
        (places["take-weekly"], {**asks, **weekly}),
        (places["move"], {"starts_at": "2027-03-15T16:00:00Z", "instructor": school.ilse.pk}),
        *[(places[name], {"instructor": school.ilse.pk}) for name in ("hours", "hours-file")],
        *[(places[name], child) for name in ("my-lessons", "meetings", "times", "weekly")],
        (places["meeting"], child),
    ]
    held = Booking.objects.filter(meeting=school.circle).first()
    lesson = Meeting.objects.filter(offering=school.consultation, starts_at__lt=NOW).last()
    others = [
        f"/people/accounts/{school.ilse.user_id}/",
        f"/people/accounts/{school.ilse.user_id}/dismiss/",
        f"/people/students/{school.posy.pk}/",
        f"/people/students/{school.posy.pk}/leave/",
        f"/meetings/{lesson.pk}/",
        f"/my-lessons/{held.pk}/change/",
        f"/my-lessons/{held.pk}/cancel/",
        "/welcome/guest/",
        "/consent/nothing/",
        "/nothing/",
    ]
    rest = [
        route.path
        for route in every_route()
        if not route.path.startswith(("/api/", "/static/", "/health/", "/metrics", "/calendar/"))
    ]
    plain = [(address, {}) for address in dict.fromkeys([*places.values(), *others, *rest])]
    return [*plain, *more]


def test_every_page_asks_the_database_twelve_times_at_most(full: School) -> None:
    """Every address of the URLconf as every role, in a school with some hundreds of people and
    meetings."""
    Welcome.objects.create(
        email="tamsin@rowanmere.example",
        name="Tamsin Orr",
        student=full.marlo,
        secret_digest=digest("guest"),
        sent_at=NOW,
        good_until=NOW + timedelta(days=14),
    )
    users = {
        "nobody": None,
        "student": full.noor.user,
        "other student": full.marlo.user,
        "guardian": full.hedda,
        "instructor": full.ilse.user,
        "foreign instructor": full.wren.user,
        "admin": full.dag,
    }
    too_many, pages = [], everything(full)
    for role, user in users.items():
        client = as_user(user)
        for address, query in pages:
            status, count = asked(client, address, query)
            if count > MOST:
                too_many.append(f"{count} {address} {sorted(query)} as {role}: {status}")
    assert too_many == [], "\n".join(too_many)


def test_a_taken_start_asks_twelve_times_at_most(full: School) -> None:
    """The page of a start that somebody else has booked, with the near ones, read at once."""
    taken = Meeting.objects.filter(
        instructor=full.ilse, offering=full.consultation, starts_at__gt=NOW + timedelta(days=3)
    ).earliest("starts_at")
    query = {
        "offering": full.consultation.pk,
        "instructor": full.ilse.pk,
        "starts_at": taken.starts_at.isoformat(),
        "student": full.marlo.pk,
    }
    for user in (full.marlo.user, full.dag):
        client = as_user(user)
        assert "Free times nearby" in client.get("/times/book/", query).content.decode()
        status, count = asked(client, "/times/book/", query)
        assert (status, count <= MOST) == (200, True)
