"""Times that suit beside GET slots/ for the same search: what a page costs over the API's own
answer.
"""

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from urllib.parse import urlencode

from django.test import Client
from knox.models import AuthToken
from rest_framework.test import APIClient

from accounts.models import Student
from bookings.domain.local_days import midnight
from bookings.models import Offering
from tests.bench import stored
from tests.bench.api import statements
from tests.bench.timing import paired

DAYS = 7


def both_searches() -> tuple[Callable[[], Any], Callable[[], Any]]:
    """The same student, offering and seven days: GET slots/ with a token and its own limit, and the
    page. Each checked once.
    """
    student = Student.objects.select_related("user").order_by("pk")[0]
    _, token = AuthToken.objects.create(student.user)
    offering = Offering.objects.get()
    first = (stored.NOW + timedelta(days=1)).date()
    since, until = (
        midnight(first + timedelta(days=ahead), student.zone).isoformat() for ahead in (0, DAYS)
    )
    api = APIClient(headers={"Authorization": f"Bearer {token}"})
    wanted = {"offering": offering.pk, "from": since, "to": until}
    browser = Client()
    browser.force_login(student.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    address = f"/times/?{urlencode({'offering': offering.pk, 'since': first.isoformat()})}"

    def ask_api() -> Any:
        return api.get("/api/v1/slots/", wanted)

    def open_page() -> Any:
        return browser.get(address)

    for answer, enough in ((ask_api(), b'"starts_at"'), (open_page(), b"/times/book/?")):
        if answer.status_code != 200 or answer.content.count(enough) < 100:
            raise AssertionError(answer.content[:500])
    return ask_api, open_page


def times_figures() -> tuple[dict[str, float], dict[str, str]]:
    """On the database in use, which holds 20,000 meetings."""
    ask_api, open_page = both_searches()
    with statements() as sent:
        page = open_page()
    pair = paired(ask_api, open_page, runs=15)
    return {
        "times_page_vs_api": pair.ratio,
        "times_page_queries": len(sent),
        "times_page_kb": len(page.content) / 1000,
    }, {
        "times_page_vs_api": (
            f"GET /times/ over GET slots/ (its own limit of 200) for the same {DAYS} days, "
            f"{stored.INSTRUCTORS} instructors, in turn: "
            f"{pair.second * 1e3:.1f} and {pair.first * 1e3:.1f} ms"
        ),
        "times_page_queries": "statements of that page, the session included",
        "times_page_kb": "the page, before compression",
    }
