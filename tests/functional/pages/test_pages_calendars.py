"""Calendar addresses: made once, shown once, and given up only after a question."""

import re
from datetime import timedelta

from django.contrib.sessions.models import Session
from django.test import Client

from bookings.models import Feed
from tests.cast import NOW
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of

ADDRESS = re.compile(r"/calendar/([\w-]+)\.ics")


def form_of(client: Client, label: str = "Phone") -> dict[str, str]:
    """The form of the page, filled in."""
    page = text_of(client.get("/calendars/"))
    return {"label": label, "uid": re.search(r'name="uid" value="([\w-]+)"', page)[1]}


def test_reloading_after_an_address_was_made_makes_no_second(school: School) -> None:
    """The form leads to a page by its address; that page shows the new one once, and again only the list."""
    client = as_user(school.noor.user)
    made = client.post("/calendars/", form_of(client))
    assert (made.status_code, made["Location"]) == (302, "/calendars/")
    assert len(ADDRESS.findall(text_of(client.get("/calendars/")))) == 1
    for _ in range(2):
        assert not ADDRESS.search(text_of(client.get("/calendars/")))
    assert Feed.objects.count() == 1


def test_the_same_form_sent_twice_makes_one_address_and_shows_it(school: School) -> None:
    """A double click, or the form sent again from the browser's history."""
    client = as_user(school.noor.user)
    form = form_of(client)
    assert [client.post("/calendars/", form).status_code for _ in range(2)] == [302, 302]
    shown = ADDRESS.search(text_of(client.get("/calendars/")))
    assert Client().get(shown[0]).status_code == 200
    assert client.post("/calendars/", form).status_code == 302
    assert Feed.objects.count() == 1
    client.post("/calendars/", form_of(client, "Tablet"))
    assert Feed.objects.count() == 2


def test_the_waiting_address_is_sealed_and_nowhere_in_the_browser(school: School) -> None:
    """Neither in the redirect, nor in a cookie, nor readable in the stored session."""
    client = as_user(school.noor.user)
    made = client.post("/calendars/", form_of(client))
    session = Session.objects.get(session_key=client.cookies["sessionid"].value)
    stored, sent = str(session.get_decoded()), f"{made.headers}{made.cookies}{made.content!r}"
    assert "address_shown_once" in stored
    secret = ADDRESS.search(text_of(client.get("/calendars/")))[1]
    assert secret not in stored
    assert secret not in sent
    session.refresh_from_db()
    assert "address_shown_once" not in str(session.get_decoded())


def test_an_address_that_waited_too_long_is_not_shown(school: School, hands: Hands) -> None:
    """After ten minutes the person makes a new one."""
    client = as_user(school.noor.user)
    client.post("/calendars/", form_of(client))
    hands.at = NOW + timedelta(minutes=11)
    assert not ADDRESS.search(text_of(client.get("/calendars/")))


def test_an_address_that_has_been_replaced_since_is_not_shown(school: School) -> None:
    """Made in one browser and renewed in another: the first shows nothing that no longer works."""
    one, other = as_user(school.noor.user), as_user(school.noor.user)
    one.post("/calendars/", form_of(one))
    other.post(f"/calendars/{Feed.objects.get().pk}/renew/", {"version": "1"})
    assert not ADDRESS.search(text_of(one.get("/calendars/")))
    assert ADDRESS.search(text_of(other.get("/calendars/")))


def test_revoking_and_renewing_ask_first_and_say_what_stops_working(school: School) -> None:
    """GET changes nothing and names what ends; POST does it."""
    client = as_user(school.noor.user)
    client.post("/calendars/", form_of(client))
    address = ADDRESS.search(text_of(client.get("/calendars/")))[0]
    feed = Feed.objects.get()
    asked = {then: client.get(f"/calendars/{feed.pk}/{then}/") for then in ("renew", "revoke")}
    assert "The old address stops working at once" in text_of(asked["renew"])
    assert "Every calendar program that uses this address stops being updated" in text_of(
        asked["revoke"]
    )
    assert Client().get(address).status_code == 200
    assert client.post(f"/calendars/{feed.pk}/revoke/", {"version": "1"}).status_code == 302
    assert Client().get(address).status_code == 404
