"""Every page as its markup: no inline style or script, one heading, labels, headers; and GET changes nothing."""

from collections.abc import Iterator
from datetime import timedelta
from html.parser import HTMLParser

import pytest
from django.db import connection
from django.test import Client

from bookings.models import (
    AuditRow,
    BusyCalendar,
    DaysAway,
    ExtraHours,
    Feed,
    MoveRequest,
    OutboxMessage,
)
from tests.cast import NOW, PASSWORD, make_assessment, make_booking
from tests.functional.pages.school import School, as_user, make_school, text_of
from tests.weekly_school import weekly_place

pytestmark = pytest.mark.one_database


def pages_of(school: School) -> Iterator[tuple[str, Client, str]]:
    """(who, her browser, address) for every page that a GET shows."""
    held = make_booking(school.circle, school.noor)
    note = make_assessment(
        school.noor, school.ilse, state="released", released_at=NOW, caution="Rest often.", level=5
    )
    one, meeting = school.booking.pk, school.booking.meeting_id
    off = school.called_off()
    taught = {"instructor": school.ilse, "time_zone": "Europe/Dublin"}
    extra = ExtraHours.objects.create(**taught, on=NOW.date(), opens=600, closes=660)
    away = DaysAway.objects.create(
        **taught, first_on=NOW.date(), last_on=NOW.date(), called_off_at=off.changed_at
    )
    book = f"/times/book/?offering={school.consultation.pk}&instructor={school.ilse.pk}&starts_at=2027-03-15T16:00:00Z"
    move = f"/my-lessons/{one}/move/?instructor={school.ilse.pk}&starts_at=2027-03-15T16:00:00Z"
    lessons = [f"/my-lessons/{one}/{page}/" for page in ("cancel", "move", "ask", "intake")]
    why = book.replace("/book/", "/why/") + "&on=2027-03-13"
    family = [
        "/times/",
        why,
        book,
        book.replace("-15T", "-12T"),
        "/my-lessons/",
        move,
        *lessons,
        f"/my-lessons/{held.pk}/change/",
    ]
    feed = Feed.objects.create(
        owner=school.noor.user, label="Phone", secret_digest="x", revised_at=NOW, opened_at=NOW
    )
    busy = BusyCalendar.objects.create(owner=school.noor.user, name="Orchestra", added_at=NOW)
    asked_for = NOW + timedelta(days=9)
    MoveRequest.objects.create(
        booking=school.booking,
        asked_by=school.noor.user,
        starts_at=asked_for,
        sequence=0,
        asked_at=NOW,
    )
    place = weekly_place(school.ilse, school.noor)
    weekly = f"/weekly/take/?term={place.term_id}&offering={place.offering_id}&instructor={place.instructor_id}&weekday=1&wall_at="
    family += [
        "/weekly/",
        weekly + "1140",
        weekly + "960",
        f"/weekly/{place.pk}/leave/",
        f"/weekly/{place.pk}/move/",
    ]
    own = [
        "/meetings/",
        "/calendars/",
        "/busy-calendars/",
        "/me/",
        "/accounts/logout/",
        "/accounts/password/change/",
        "/accounts/2fa/",
    ]
    teaching = [
        "/hours/",
        f"/hours/extra/{extra.pk}/remove/",
        f"/hours/away/{away.pk}/remove/",
        f"/hours/away/reinstate/?meetings={off.pk},{school.circle.pk}",
        f"/brief/{one}/",
        f"/brief/{one}/assessment/",
        f"/assessments/{note.pk}/",
        f"/assessments/{note.pk}/write/",
        f"/assessments/{make_assessment(school.noor, school.ilse).pk}/release/",
        f"/meetings/{meeting}/call-off/",
        f"/meetings/{school.circle.pk}/change/",
        f"/meetings/{school.circle.pk}/reinstate/",
        f"/meetings/{off.pk}/reinstate/",
        f"/meetings/{off.pk}/",
        "/move-requests/",
    ]
    row = school.posy.guardianships.get()
    office = [
        "/people/",
        "/people/consent/",
        "/people/students/new/",
        f"/people/students/{school.posy.pk}/",
        f"/people/students/{school.noor.pk}/leave/",
        f"/people/guardians/{row.pk}/remove/",
        f"/people/accounts/{school.ilse.user_id}/",
        f"/people/accounts/{school.ilse.user_id}/close/",
        f"/people/accounts/{school.ilse.user_id}/dismiss/",
        f"/people/accounts/{school.ilse.user_id}/second-factor/",
        "/terms/",
        f"/terms/{place.term_id}/",
        "/meetings/new/",
        f"/hours/?instructor={school.ilse.pk}",
        f"/times/?student={school.posy.pk}",
    ]
    everybodys = [
        "/accounts/login/",
        "/accounts/password/reset/",
        "/accounts/password/reset/done/",
        "/accounts/signup/",
        "/nothing/",
    ]
    by_whom = [
        ("stranger", None, everybodys),
        (
            "student",
            school.noor.user,
            [
                *family,
                *own,
                f"/calendars/{feed.pk}/renew/",
                f"/calendars/{feed.pk}/revoke/",
                f"/busy-calendars/{busy.pk}/remove/",
                f"/assessments/{note.pk}/",
                f"/meetings/{school.circle.pk}/",
                "/people/",
            ],
        ),
        (
            "guardian",
            school.hedda,
            [
                f"/me/consents/{row.pk}/withdraw/",
                "/me/",
                "/busy-calendars/",
                "/times/",
                "/weekly/",
                "/my-lessons/",
                "/meetings/",
            ],
        ),
        ("instructor", school.ilse.user, [*teaching, *own, f"/meetings/{school.circle.pk}/"]),
        ("admin", school.dag, [*office, *own, f"/meetings/{school.circle.pk}/"]),
    ]
    for who, user, addresses in by_whom:
        client = as_user(user)
        for address in addresses:
            yield who, client, address


class Markup(HTMLParser):
    """What the rules ask about one page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.wrong: list[str] = []
        self.headings = 0
        self.ids: list[str] = []
        self.labelled: set[str] = set()
        self.fields: set[str] = set()
        self.lang = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        held = dict(attrs)
        self.wrong += [name for name in held if name == "style" or name.startswith("on")]
        if tag == "style" or (tag == "script" and "src" not in held):
            self.wrong.append(f"inline {tag}")
        self.headings += tag == "h1"
        self.lang = held.get("lang") or self.lang
        if held.get("id"):
            self.ids.append(held["id"] or "")
        if tag == "label" and held.get("for"):
            self.labelled.add(held["for"] or "")
        if (
            tag in ("input", "select", "textarea")
            and held.get("type") not in ("hidden", "radio", "submit")
            and held.get("id")
        ):
            self.fields.add(held["id"] or "")


def test_every_page_keeps_the_rules_of_its_markup(db: None) -> None:
    """One h1, a title, a language, labels, ids used once, nothing inline; a policy that forbids it; nothing kept by caches."""
    for who, client, address in pages_of(make_school(PASSWORD)):
        response = client.get(address)
        at = f"{who} {address}"
        assert response.status_code in (200, 403, 404), at
        page = text_of(response)
        markup = Markup(page)
        assert markup.wrong == [], at
        assert markup.headings == 1, at
        assert markup.lang == "en", at
        assert "<title>" in page, at
        assert "<title> ·" not in page, at
        assert len(markup.ids) == len(set(markup.ids)), (
            f"{at}: {[i for i in markup.ids if markup.ids.count(i) > 1]}"
        )
        assert markup.fields - markup.labelled == set(), at
        policy = response.headers["Content-Security-Policy"]
        assert "default-src 'self'" in policy, at
        assert "unsafe-inline" not in policy, at
        assert response.headers["Referrer-Policy"] == "same-origin", at
        assert response.headers["X-Frame-Options"] == "DENY", at
        if who != "stranger":
            assert "no-store" in response.headers["Cache-Control"], at


def counts() -> dict[str, int]:
    """Rows of every table but sessions and the log of who read what, which reading itself writes."""
    with connection.cursor() as cursor:
        tables = [
            name
            for name in connection.introspection.table_names()
            if name not in ("django_session", "bookings_assessmentreading")
        ]
        found = {}
        for name in tables:
            cursor.execute(f'SELECT COUNT(*) FROM "{name}"')
            found[name] = cursor.fetchone()[0]
    return found


def test_get_changes_nothing(school: School) -> None:
    """Not a row comes or goes, nothing is queued and nothing audited, whoever opens whatever."""
    pages = list(pages_of(school))
    before = counts()
    for _, client, address in pages:
        client.get(address)
    assert counts() == before
    assert not AuditRow.objects.exists()
    assert not OutboxMessage.objects.exists()


@pytest.mark.parametrize(
    "address",
    [
        "/hours/extra/",
        "/hours/away/",
        "/me/zone/",
        "/meetings/1/place/",
        "/meetings/1/waiting-list/",
        "/busy-calendars/1/refresh/",
    ],
)
def test_addresses_that_only_act_refuse_get(school: School, address: str) -> None:
    """405, so that a link can never do it."""
    assert as_user(school.dag).get(address).status_code == 405


def test_a_form_without_its_token_is_refused_in_our_words(school: School) -> None:
    """A forged POST changes nothing and reads like a page of the house."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(
        school.noor.user, backend="allauth.account.auth_backends.AuthenticationBackend"
    )
    response = client.post(f"/my-lessons/{school.booking.pk}/cancel/")
    assert response.status_code == 403
    assert "This form is too old" in text_of(response)
    school.booking.refresh_from_db()
    assert school.booking.standing == "HELD"


def test_a_fault_of_ours_is_a_plain_page(school: School, monkeypatch: pytest.MonkeyPatch) -> None:
    """500 says so without any context, and shows nothing of the fault."""

    def breaks() -> None:
        raise RuntimeError("canary-500")

    monkeypatch.setattr("bookings.pages.lessons.clock.now", breaks)
    client = as_user(school.noor.user)
    client.raise_request_exception = False
    response = client.get("/my-lessons/")
    assert response.status_code == 500
    assert "Something broke here" in text_of(response)
    assert "canary-500" not in text_of(response)


def test_nobody_changes_the_address_the_school_knows_her_by(school: School) -> None:
    """The account library's own page for that is closed, for GET and for POST."""
    client = as_user(school.noor.user)
    for response in (
        client.get("/accounts/email/"),
        client.post("/accounts/email/", {"email": "x@rowanmere.example", "action_add": ""}),
    ):
        assert response.url == "/me/"
