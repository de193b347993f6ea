"""What scripts of our own add to a page that works without them: hours drawn while they are typed,
and a link that appears on time.
"""

from datetime import timedelta

import pytest

from bookings.pages.lessons import JOIN_BEFORE
from tests.functional.pages.browser import Opens
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

BANDS = "strip => [...strip.querySelectorAll('.band')].map(band => band.getAttribute('width'))"


@pytest.mark.parametrize(
    ("typed", "drawn"),
    [
        ("9-12, 18:00-24", ["12.5%", "25%"]),
        ("９ – 10.30 and 14h until 15h", ["6.25%", "4.166666666666667%"]),
        ("12-9, 9-25, midday, 7-8", ["4.166666666666667%"]),
        ("", []),
    ],
)
def test_a_strip_is_drawn_while_its_hours_are_typed(
    people: School, opens: Opens, typed: str, drawn: list[str]
) -> None:
    """Only the day that is typed in, and its words say that nothing is published yet."""
    page = opens(people.ilse.user, "/hours/")
    days = page.locator("form.week .day")
    before = days.nth(0).locator("svg.ribbon").evaluate(BANDS)
    days.nth(1).locator("input").fill(typed)
    strip = days.nth(1).locator("svg.ribbon")
    assert strip.evaluate(BANDS) == drawn
    assert strip.get_attribute("aria-label") == "Tuesday: the hours typed below, not published yet"
    assert days.nth(0).locator("svg.ribbon").evaluate(BANDS) == before != []


def test_the_link_to_join_appears_when_it_is_time(
    people: School, opens: Opens, hands: Hands
) -> None:
    """Two seconds early there is a sentence with the hour; then the link, without a reload."""
    hands.at = people.booking.starts_at - JOIN_BEFORE - timedelta(seconds=2)
    page = opens(people.noor.user, "/my-lessons/")
    link, said = page.locator(".next a.go"), page.get_by_text("appears here at 12:20.")
    link.wait_for(state="visible", timeout=10_000)
    assert not said.is_visible()
    hands.at = people.booking.starts_at - JOIN_BEFORE - timedelta(hours=1)
    page.reload()
    assert said.is_visible()
    assert not link.is_visible()


def test_the_link_to_join_is_there_without_a_script(
    people: School, opens: Opens, hands: Hands
) -> None:
    """At any hour, and no sentence says that it will appear."""
    hands.at = people.booking.starts_at - timedelta(hours=3)
    page = opens(people.noor.user, "/my-lessons/", java_script_enabled=False)
    assert page.locator(".next a.go").is_visible()
    assert not page.get_by_text("appears here at").is_visible()
