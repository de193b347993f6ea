"""Times that suit in a browser: how high it is, how many tab stops a booking takes, and what is
folded.
"""

import pytest

from bookings.domain.vocabulary import Kind
from bookings.models import Booking
from tests.cast import NOW, PASSWORD, at, make_offering, teaches
from tests.functional.pages.browser import FOCUS, Opens, violations
from tests.functional.pages.large import add_instructors
from tests.functional.pages.school import School
from tests.school.weekly import make_term

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SCREEN, SCREENS, MOST_STOPS = 844, 3, 12
HEIGHT = "document.documentElement.scrollHeight"
OVER = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.mark.parametrize("more", [0, 12])
def test_pages_of_times_are_three_screens_high_at_most(
    people: School, opens: Opens, more: int
) -> None:
    """At 390 px: times, moving, weekly places and moving one, with two instructors and with many,
    nothing hanging over.
    """
    make_term(people.dag, now=NOW)
    lesson = make_offering("Harp lesson", Kind.PRIVATE_LESSON, 45)
    teaches(people.ilse, lesson)
    add_instructors(people, more)
    for address in (
        "/times/?since=2027-03-12",
        f"/my-lessons/{people.booking.pk}/move/",
        "/weekly/",
    ):
        page = opens(people.noor.user, address, width=390)
        assert page.evaluate(HEIGHT) <= SCREEN * SCREENS, address
        assert page.evaluate(OVER) <= 0, address


def test_a_first_booking_takes_few_tab_stops(people: School, opens: Opens) -> None:
    """From the sign-in page to booked by Tab and Enter: at most 12 stops, those within the forms
    included.
    """
    page, stops = opens(None, "/accounts/login/", time_zone="America/New_York"), 0
    add_instructors(people, 12)

    def tab_to(what: str) -> None:
        nonlocal stops
        for _ in range(MOST_STOPS):
            page.keyboard.press("Tab")
            stops += 1
            said, is_seen = page.evaluate(FOCUS)
            if what in said:
                assert is_seen, what
                return
        raise AssertionError(f"{what} is not reached by keyboard")

    tab_to("Skip to the page")
    page.keyboard.press("Enter")
    tab_to("login")
    page.keyboard.type(people.noor.user.email)
    tab_to("password")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url("**/my-lessons/")
    tab_to("Times that suit")
    page.keyboard.press("Enter")
    page.wait_for_url("**/times/")
    tab_to("Skip to the page")
    page.keyboard.press("Enter")
    tab_to("Skip to the times")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    stops += 1
    page.keyboard.press("Enter")
    page.wait_for_url("**/times/book/**")
    tab_to("Skip to the page")
    page.keyboard.press("Enter")
    tab_to("Skip to booking")
    page.keyboard.press("Enter")
    tab_to("Book ")
    page.keyboard.press("Enter")
    page.wait_for_url("**/my-lessons/")
    assert Booking.objects.filter(student=people.noor).count() == 2
    assert stops <= MOST_STOPS
    print(f"{stops} tab stops")


def test_a_start_is_one_tab_stop(people: School, opens: Opens) -> None:
    """A closed day is one stop; open, each of its starts is one, and the reasons of all are one
    more until opened.
    """
    page = opens(people.noor.user, f"/times/?since=2027-03-15&instructor={people.ilse.pk}")
    tuesday = page.locator("section.day", has_text="16 March")
    tuesday.locator("summary").first.click()
    rows = tuesday.locator(".starts li").count()
    assert rows == 10
    tuesday.locator("summary").first.focus()
    seen = []
    for _ in range(rows + 2):
        page.keyboard.press("Tab")
        seen.append(
            page.evaluate(
                "document.activeElement.tagName + document.activeElement.textContent.slice(0, 3)"
            )
        )
    assert [name[0] for name in seen] == ["A"] * rows + ["S", "A"], seen


@pytest.mark.parametrize("width", [390, 1280])
def test_fit_bars_begin_at_one_line(people: School, opens: Opens, width: int) -> None:
    """In each column of a list every bar begins at the same place, however long a clock is."""
    add_instructors(people, 6)
    page = opens(people.noor.user, "/times/?since=2027-03-12", width=width)
    page.locator("section.day summary").first.click()
    begins = page.evaluate(
        "[...document.querySelectorAll('.day:first-of-type .starts li')].map(row => "
        "[row.getBoundingClientRect().x, row.querySelector('svg').getBoundingClientRect().x])"
    )
    lines = {(round(row), round(bar)) for row, bar in begins}
    assert len(lines) == len({row for row, _ in lines}) > 0


def test_axe_finds_nothing_in_open_days(people: School, opens: Opens) -> None:
    """Every fold opened, at two widths, in the light and the dark, with many instructors and with
    one.
    """
    add_instructors(people, 3)
    found = []
    for more in ("", f"&instructor={people.ilse.pk}"):
        page = opens(people.noor.user, f"/times/?since=2027-03-12{more}")
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        for width, scheme in ((1280, "light"), (390, "light"), (390, "dark")):
            page.set_viewport_size({"width": width, "height": 900})
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            found += [
                (width, scheme, rule["id"], rule["nodes"][0]["html"][:90])
                for rule in violations(page)
            ]
            assert page.evaluate(OVER) <= 0
    assert found == []


def test_only_refusals_are_red(people: School, opens: Opens) -> None:
    """On the page that answers why not, headings, clocks and starts to be had are not in the colour
    of refusals.
    """
    address = (
        f"/times/why/?offering={people.consultation.pk}&instructor={people.ilse.pk}&on=2027-03-12"
    )
    page = opens(people.noor.user, address)
    colour = "element => getComputedStyle(element).color"
    red = page.locator("dd.refused").first.evaluate(colour)
    for other in ("main h2", "main dt time", "main dd strong"):
        assert page.locator(other).first.evaluate(colour) != red, other


def test_a_folded_day_opens_by_keyboard_and_books(people: School, opens: Opens) -> None:
    """Enter on the word of a day shows its starts; Enter on a start leads to its booking page."""
    page = opens(people.noor.user, f"/times/?since=2027-03-15&instructor={people.ilse.pk}")
    tuesday = page.locator("section.day", has_text="16 March")
    tuesday.locator("summary").first.focus()
    page.keyboard.press("Enter")
    tuesday.get_by_role("link", name="12:30").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/times/book/**")
    page.get_by_role("button", name="Book Tuesday 16 March, 12:30").click()
    page.wait_for_url("**/my-lessons/")
    assert Booking.objects.filter(starts_at=at("2027-03-16T16:30Z")).exists()
