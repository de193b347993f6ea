"""What the office shows: the school's tables and no library's, looked up by nothing but what each
list offers.
"""

import re
from collections.abc import Iterator

import pytest
from django.apps import apps
from django.contrib import admin
from django.contrib.admin.utils import get_fields_from_path
from django.db.models import EmailField, Model
from django.test import RequestFactory

from tests.functional.pages.school import School, as_user, text_of

pytestmark = pytest.mark.sql

# Each table that the office shows, with the fields that its list may be narrowed by.
TABLES: dict[str, set[str]] = {
    "accounts.Instructor": set(),
    "accounts.Student": {"level", "is_active"},
    "accounts.User": {"is_active", "is_staff"},
    "bookings.AuditRow": {"verb", "thing", "at"},
    "bookings.Booking": {"standing", "place_kind", "ended_why"},
    "bookings.Exchange": {"ended_why"},
    "bookings.Feed": set(),
    "bookings.IgnoredMail": {"reason", "day"},
    "bookings.Meeting": {"is_flagged", "status", "offering", "starts_at"},
    "bookings.MoveRequest": {"state"},
    "bookings.Offering": {"kind", "is_open"},
    "bookings.OutboxMessage": {"state", "kind"},
    "bookings.ProposedTimes": {"ended_why"},
    "bookings.StudioPolicy": set(),
    "bookings.TeachingWeek": set(),
}
# How: equal to, without, in that year, month or on that day. Nothing compares a part of a text.
COMPARED = {"", "exact", "isnull", "id__exact", "year", "month", "day"}
# Words that a person is found by; nothing else of anybody is searched.
SEARCHED = {"name", "own_name", "title", "label"}
HOSTILE = ("", "__exact", "__startswith", "__icontains", "__regex", "__gt", "__in", "__isnull")


def shown() -> dict[str, type[Model]]:
    """The tables that the office shows, by label."""
    return {model._meta.label: model for model in admin.site._registry}


def test_the_office_shows_the_schools_tables_and_no_librarys() -> None:
    """Every registered table stands in the list above; a new one, ours or a library's, fails here
    first.

    Source: OWASP, Broken Access Control; a token's owner, a TOTP secret and an address could be
    changed there.
    """
    assert set(shown()) == set(TABLES)


def test_no_installed_library_can_put_a_table_into_the_office() -> None:
    """The site refuses whatever any installed application of others would register, today's
    libraries and tomorrow's.
    """
    for model in apps.get_models():
        if model._meta.app_label not in {"accounts", "bookings"}:
            admin.site.register(model)
            assert not admin.site.is_registered(model), model


@pytest.mark.parametrize(
    "table",
    [
        "account/emailaddress",
        "mfa/authenticator",
        "knox/authtoken",
        "auth/group",
        "auth/permission",
        "sessions/session",
    ],
)
def test_an_admin_finds_no_librarys_table(school: School, table: str) -> None:
    """Neither the list nor the form nor a row of a library's table is at its address."""
    dag = as_user(school.dag)
    for address in ("", "add/", "1/change/", "1/delete/", "1/history/"):
        assert dag.get(f"/office/{table}/{address}").status_code == 404


def lookups(model: type[Model]) -> Iterator[str]:
    """Every path from a table to a field, over one relation and over two, in both directions."""
    for first in model._meta.get_fields():
        yield first.name
        for second in first.related_model._meta.get_fields() if first.is_relation else ():
            yield f"{first.name}__{second.name}"
            for third in second.related_model._meta.get_fields() if second.is_relation else ():
                yield f"{first.name}__{second.name}__{third.name}"


@pytest.mark.parametrize("label", sorted(TABLES))
def test_a_list_is_narrowed_by_what_it_offers_and_by_nothing_else(
    school: School, label: str
) -> None:
    """Of every field of every table in reach, in every comparison, only the list's own filters are
    taken.

    Otherwise a password's hash, a digest or an address is read one character at a time.
    Source: Django, ModelAdmin.lookup_allowed.
    """
    table = admin.site.get_model_admin(shown()[label])
    request = RequestFactory().get("/")
    request.user = school.dag
    taken = {
        f"{path}{how}"
        for path in lookups(table.model)
        for how in (*HOSTILE, "__year", "__id__exact", "__password__startswith")
        if table.lookup_allowed(f"{path}{how}", "a", request)
    }
    fields = {lookup.partition("__")[0] for lookup in taken}
    assert fields == TABLES[label]
    assert {lookup.partition("__")[2] for lookup in taken} <= COMPARED


@pytest.mark.parametrize(
    "address",
    [
        "accounts/user/?password__startswith=argon2",
        "accounts/user/?email__startswith=hedda",
        "accounts/user/?email=hedda@rowanmere.example",
        "accounts/user/?auth_token_set__token_key__startswith=a",
        "accounts/user/?authenticator__data__icontains=a",
        "accounts/instructor/?user__password__startswith=argon2",
        "accounts/student/?guardianships__consent_digest__startswith=0",
        "bookings/feed/?secret_digest__startswith=0",
        "bookings/feed/?owner__email__startswith=h",
        "bookings/booking/?assessment__sealed_remarks__isnull=0",
        "bookings/booking/?assessment__obstacle__icontains=thumb",
        "bookings/meeting/?join_address__icontains=rooms",
        "bookings/outboxmessage/?body__icontains=welcome",
        "bookings/outboxmessage/?to_address__startswith=hedda",
        "bookings/auditrow/?actor__password__startswith=argon2",
    ],
)
def test_a_hostile_look_up_is_refused(school: School, address: str) -> None:
    """A list asked by what it does not offer answers 400 and tells nothing."""
    assert as_user(school.dag).get(f"/office/{address}").status_code == 400


def test_nobody_is_searched_for_by_address_or_secret() -> None:
    """Every field that the search box reads is a name; no address, hash or digest is among them."""
    for model, table in admin.site._registry.items():
        for path in table.search_fields:
            field = get_fields_from_path(model, path.strip("^=@"))[-1]
            assert field.name in SEARCHED, f"{table} {path}"
            assert not isinstance(field, EmailField)


def test_the_search_box_does_not_find_an_address(school: School) -> None:
    """Part of an address finds nobody, a name does."""
    dag = as_user(school.dag)
    found = [
        "/change/" in text_of(dag.get("/office/accounts/user/", {"q": term}))
        for term in ("hedda@rowanmere", "Hedda")
    ]
    assert found == [False, True]
    whose = {"app_label": "accounts", "model_name": "student", "field_name": "user"}
    completed = [
        len(dag.get("/office/autocomplete/", {**whose, "term": term}).json()["results"])
        for term in ("hedda@rowanmere", "Hedda")
    ]
    assert completed == [0, 1]


def test_the_offices_own_filters_work(school: School) -> None:
    """Every link beside every list opens the list, so the rule takes no filter away that is
    offered.
    """
    dag = as_user(school.dag)
    followed = 0
    for model in shown().values():
        place = f"/office/{model._meta.app_label}/{model._meta.model_name}/"
        for query in re.findall(r'href="(\?[^"]+)"', text_of(dag.get(place))):
            answer = dag.get(place + query.replace("&amp;", "&"))
            assert answer.status_code == 200, place + query
            followed += 1
    assert followed > 20


def test_an_instructors_account_is_not_changed_in_the_office(school: School) -> None:
    """Whose account an instructor's is cannot be typed there: it would hand over every note the
    instructor has written.
    """
    dag, place = as_user(school.dag), f"/office/accounts/instructor/{school.ilse.pk}/change/"
    assert 'name="user"' not in text_of(dag.get(place))
    dag.post(place, {"user": school.hedda.pk, "room": school.ilse.room, "_save": "1"})
    owner = school.ilse.user_id
    school.ilse.refresh_from_db()
    assert school.ilse.user_id == owner


def test_nobody_is_made_an_instructor_in_the_office(school: School) -> None:
    """A role is given by invitation, which tells the person and ends their old sessions."""
    assert as_user(school.dag).get("/office/accounts/instructor/add/").status_code == 403


@pytest.mark.parametrize("address", ["password_change/", "password_change/done/"])
def test_the_offices_password_page_is_the_pages_one(school: School, address: str) -> None:
    """One page changes passwords: it asks for a recent sign-in, writes an email and ends tokens."""
    answer = as_user(school.dag).get(f"/office/{address}")
    assert (answer.status_code, answer.url) == (302, "/accounts/password/change/")
    answer = as_user(school.dag).post(f"/office/{address}", {"new_password1": "x"})
    assert (answer.status_code, answer.url) == (302, "/accounts/password/change/")
