"""Every page that shows a time says whose clock it is on."""

import re

import pytest

from accounts.models import User
from bookings.domain.zones import place
from tests.cast import PASSWORD
from tests.functional.pages.every_page import pages_of
from tests.functional.pages.school import make_school, text_of

pytestmark = pytest.mark.one_database

TIME = re.compile(r"\b\d{2}:\d{2}\b")
EXAMPLE = re.compile(r"(such as|write) [^.<]*?\d{2}:\d{2}")


def test_every_time_stands_on_a_clock_that_is_named(db: None) -> None:
    """Beside it or on top of the page. The reader's own clock in the head does not count."""
    pages = list(pages_of(make_school(PASSWORD)))
    places = {place(str(zone)) for zone in User.objects.values_list("time_zone", flat=True)}
    unnamed = []
    for who, client, address in pages:
        main = text_of(client.get(address)).partition("<main")[2]
        text = EXAMPLE.sub("", re.sub(r"<[^>]*>", " ", main.partition("</main>")[0]))
        if TIME.search(text) and not any(name in text for name in places):
            unnamed.append(f"{who} {address}: {TIME.findall(text)[0]}")
    assert not unnamed, "\n".join(unnamed)
