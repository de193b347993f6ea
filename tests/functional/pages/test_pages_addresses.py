"""A calendar's secret address: shown once, renewed, revoked, and nobody else's."""

import re

from django.test import Client

from bookings.models import Feed
from tests.functional.pages.school import School, as_user, text_of


def address_after(client: Client, path: str, **sent: str) -> str:
    """The path of the address that the page after this form shows."""
    page = text_of(client.post(path, sent, follow=True))
    return re.search(r"/calendar/[\w-]+\.ics", page)[0]


def test_a_calendar_address_is_shown_once_and_works_until_revoked(school: School) -> None:
    """Opened, fetched, renewed, revoked: the page after each form alone shows the address."""
    client = as_user(school.noor.user)
    address = address_after(client, "/calendars/", label="Phone")
    assert Client().get(address).status_code == 200
    assert address not in text_of(client.get("/calendars/"))
    feed = Feed.objects.get()
    renewed = address_after(client, f"/calendars/{feed.pk}/renew/")
    assert Client().get(address).status_code == 404
    assert client.post(f"/calendars/{feed.pk}/revoke/").status_code == 302
    assert Client().get(renewed).status_code == 404
    assert client.post("/calendars/", {"label": ""}).status_code == 422


def test_a_page_that_shows_an_older_address_renews_nothing(school: School) -> None:
    """Open in two windows: the second is told to look again, and the address that the first has
    just been shown works on.
    """
    client = as_user(school.noor.user)
    client.post("/calendars/", {"label": "Phone"})
    feed = Feed.objects.get()
    asked = text_of(client.get(f"/calendars/{feed.pk}/renew/"))
    version = re.search(r'name="version" value="(\d+)"', asked)[1]
    renewed = address_after(client, f"/calendars/{feed.pk}/renew/", version=version)
    for then in ("renew", "revoke"):
        late = client.post(f"/calendars/{feed.pk}/{then}/", {"version": version})
        assert late.status_code == 412
        assert "has a new address since you read it" in text_of(late)
    assert Client().get(renewed).status_code == 200
    assert client.post(f"/calendars/{feed.pk}/revoke/", {"version": "2"}).status_code == 302


def test_nobody_renews_anothers_calendar(school: School) -> None:
    """Not yours looks like not there."""
    as_user(school.noor.user).post("/calendars/", {"label": "Phone"})
    feed = Feed.objects.get()
    for then in ("renew", "revoke"):
        assert as_user(school.dag).post(f"/calendars/{feed.pk}/{then}/").status_code == 404
