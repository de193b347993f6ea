"""Who reaches what in the office: every route of the site, as every kind of person, by GET and by
POST.
"""

from collections.abc import Iterator
from typing import Any

import pytest
from django.contrib import admin
from django.contrib.contenttypes.models import ContentType
from django.test import Client
from django.urls import URLPattern, URLResolver

from accounts.models import User
from bookings.models import IgnoredMail, MoveRequest
from tests.cast import NOW
from tests.functional.api.client import snapshot
from tests.functional.pages.school import School, as_user
from tests.school.exchanges import open_exchange
from tests.school.proposals import proposed_time
from tests.school.weekly import weekly_place

# What an admin gets by GET. To everybody else nothing of the office is there but the way to
# sign-in.
SITE = {
    "index": 200,
    "login": 302,  # signed in already
    "logout": 405,
    "password_change": 302,  # to the pages' one
    "password_change_done": 302,
    "autocomplete": 403,  # without a list to complete from
    "jsi18n": 200,
    "view_on_site": 404,  # nothing of ours names a page of its own
    "app_list": 200,
    "": 404,  # whatever else
}
LIST, ADD, CHANGE, DELETE = "changelist", "add", "change", "delete"
# Every list, history and row may be read; "" is Django's old address of a row. What else an admin
# may do to a table:
MAY = {
    "accounts_user": set(),
    "accounts_instructor": set(),
    "accounts_student": set(),
    "bookings_auditrow": set(),
    "bookings_booking": set(),
    "bookings_feed": set(),
    "bookings_ignoredmail": set(),
    "bookings_meeting": set(),
    "bookings_moverequest": set(),
    "bookings_offering": set(),
    "bookings_outboxmessage": set(),
    "bookings_exchange": set(),
    "bookings_proposedtimes": set(),
    "bookings_studiopolicy": set(),
    "bookings_teachingweek": set(),
}
ROLES = ("nobody", "student", "guardian", "instructor", "admin")


def routes() -> Iterator[tuple[str, str]]:
    """The name and the pattern of every route of the office."""
    for route in admin.site.get_urls():
        if isinstance(route, URLResolver):
            yield from (
                (inner.name or "", f"{route.pattern}{inner.pattern}")
                for inner in route.url_patterns
            )
        elif isinstance(route, URLPattern):
            yield route.name or "", str(route.pattern)


def expected(name: str, pattern: str) -> int:
    """What an admin gets there by GET; KeyError for a route or a table that is not listed."""
    table, _, verb = name.rpartition("_")
    if pattern.startswith(("accounts/", "bookings/")):
        if not name:
            return 302  # to the form of that row
        readable = {LIST, "history", CHANGE}
        return 200 if verb in readable | MAY[table] else 403
    return SITE[name]


def test_authorisation_matrix_names_every_route_of_the_office() -> None:
    """A table or a page of the office without a row here fails the build, and so does a row without
    one.
    """
    found = list(routes())
    for name, pattern in found:
        expected(name, pattern)
    tables = {name.rpartition("_")[0] for name, _ in found if name.endswith("_changelist")}
    assert tables == set(MAY)
    names = {name for name, pattern in found if not pattern.startswith(("accounts/", "bookings/"))}
    assert names == set(SITE)
    verbs = {name.removeprefix(f"{t}_") for t in MAY for name, _ in found if name.startswith(t)}
    assert verbs == {LIST, ADD, CHANGE, DELETE, "history"}


@pytest.fixture
def rows(school: School) -> dict[str, int]:
    """One row of each table that the school does not begin with, by the table's name."""
    school.ilse.user.feeds.create(
        label="Phone", secret_digest="0" * 64, revised_at=NOW, opened_at=NOW
    )
    IgnoredMail.objects.create(day=NOW.date(), reason="no-calendar", count=1)
    MoveRequest.objects.create(
        booking=school.booking, asked_by=school.noor.user, starts_at=NOW, sequence=0, asked_at=NOW
    )
    proposed_time(school.ilse, school.noor, school.consultation)
    open_exchange(weekly_place(school.ilse, school.noor), school.marlo)
    as_user(school.noor.user).post(f"/my-lessons/{school.booking.pk}/cancel/")
    found = {}
    for model in admin.site._registry:
        row = model._default_manager.order_by("pk").first()
        assert row is not None, model
        found[f"{model._meta.app_label}/{model._meta.model_name}/"] = row.pk
    return found


def address(pattern: str, rows: dict[str, int]) -> str:
    """A real address of the route, of a row that is there."""
    table = next((table for table in rows if pattern.startswith(table)), "")
    path = (
        pattern.replace("<path:object_id>", str(rows.get(table, 1)))
        .replace("<path:content_type_id>", str(ContentType.objects.get_for_model(User).pk))
        .replace("(?P<url>.*)$", "nothing/")
    )
    return "/office/" + ("bookings/" if path.startswith("^(?P<app_label>") else path)


def who(school: School) -> dict[str, Client]:
    """A browser for each role."""
    users: dict[str, Any] = {
        "nobody": None,
        "student": school.noor.user,
        "guardian": school.hedda,
        "instructor": school.ilse.user,
        "admin": school.dag,
    }
    return {role: as_user(users[role]) for role in ROLES}


def test_authorisation_matrix_of_the_office(school: School, rows: dict[str, int]) -> None:
    """An admin reaches what the matrix says; anybody else is led to sign-in at every address, and a
    POST changes nothing.
    """
    clients = who(school)
    for name, pattern in routes():
        place = address(pattern, rows)
        assert clients["admin"].get(place).status_code == expected(name, pattern), place
    clients, before = who(school), snapshot()
    for name, pattern in routes():
        place = address(pattern, rows)
        for role in ROLES[:-1]:
            for verb in ("get", "post"):
                answer = getattr(clients[role], verb)(place, {"_save": "1", "post": "yes"})
                at = f"{verb} {place} as {role}: {answer.status_code}"
                if name == "login" and role != "nobody":
                    assert answer.status_code == 403, at
                else:
                    assert answer.status_code == 302, at
                    assert answer.url.startswith(("/office/", "/accounts/login/")), at
    assert snapshot() == before


def test_no_action_of_the_office_is_anothers(school: School, rows: dict[str, int]) -> None:
    """Every action of every list, the built-in one that deletes too, does nothing for whoever is no
    admin.
    """
    clients, before = who(school), snapshot()
    tried = 0
    for model, table in admin.site._registry.items():
        place = f"{model._meta.app_label}/{model._meta.model_name}/"
        for action in {name for name, _ in admin.site.actions} | {
            act if isinstance(act, str) else act.__name__ for act in table.actions
        }:
            asked = {"action": action, "_selected_action": [rows[place]], "why": "x", "post": "yes"}
            for role in ROLES[:-1]:
                assert clients[role].post(f"/office/{place}", asked).status_code == 302
                tried += 1
    assert tried > len(MAY)
    assert snapshot() == before


def test_authorisation_matrix_of_the_office_without_the_second_factor(
    school: School, rows: dict[str, int], settings: Any
) -> None:
    """An admin whose session has not passed the second factor reaches no address of the office, and
    changes nothing.
    """
    settings.SECOND_FACTOR_REQUIRED = True
    client, before = as_user(school.dag), snapshot()
    for _, pattern in routes():
        place = address(pattern, rows)
        for answer in (client.get(place), client.post(place, {"_save": "1", "post": "yes"})):
            assert (answer.status_code, answer.url.startswith("/accounts/2fa/")) == (302, True)
    assert snapshot() == before
