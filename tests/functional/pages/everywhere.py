"""Every address of the product, and what a GET of one asks the database."""

import re
from typing import Any

from django.db import connection, reset_queries
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext

from bookings.models import Booking, Meeting, Offering, Term
from tests.cast import NOW
from tests.functional.pages.matrix import addresses
from tests.functional.pages.school import School
from tests.functional.routes import every_route
from tests.school.plans import answered_who_next

TRANSACTION = re.compile(r"^(SAVEPOINT|RELEASE|BEGIN|COMMIT)")


def answered(
    client: Client, address: str, query: dict[str, Any] | None = None
) -> tuple[HttpResponse, int]:
    """Answer and number of statements of one GET, the session's and the user's among them."""
    reset_queries()  # the log of a connection holds 9,000
    with CaptureQueriesContext(connection) as seen:
        response = client.get(address, query or {})
    statements = [row["sql"] for row in seen if not TRANSACTION.match(row["sql"])]
    return response, len(statements)


def asked(client: Client, address: str, query: dict[str, Any] | None = None) -> tuple[int, int]:
    """Status and number of statements of one GET."""
    response, count = answered(client, address, query)
    return response.status_code, count


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
        *[
            (places[name], {"instructor": school.ilse.pk})
            for name in ("hours", "hours-file", "hours-by-week")
        ],
        *[(places[name], child) for name in ("my-lessons", "meetings", "times", "weekly")],
        (places["meeting"], child),
    ]
    held = Booking.objects.filter(meeting=school.circle).first()
    lesson = Meeting.objects.filter(offering=school.consultation, starts_at__lt=NOW).last()
    who_next = answered_who_next(school.consultation, school.ilse, school.noor, school.posy)
    others = [
        f"/plans/{who_next.pk}/",
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
