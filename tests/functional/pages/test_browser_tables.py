"""Tables of the books on a phone: every number is on the screen, with its heading beside it."""

import pytest
from playwright.sync_api import Page

from bookings.domain.vocabulary import Kind
from bookings.models import Term
from tests.cast import at, make_booking, make_meeting, make_offering, teaches
from tests.functional.pages.browser import Opens, violations
from tests.functional.pages.school import School
from tests.functional.pages.set_up import publish_a_term

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True), pytest.mark.heavy]

OVER = """() => Math.max(...[...document.querySelectorAll(".scrolls, html")].map(
  one => one.scrollWidth - one.clientWidth))"""
ACCOUNT = ["Noor Ashgrove", "Extra 1", "Not marked 1"]
STATEMENT = [
    "Wednesday 20 January 2027 16:00 Dublin",
    "Kind private lesson",
    "Booked 50 min",
    "What happened the register is open",
    "Does it count? No. Nobody has said yet what happened.",
    "Minutes that count 0",
    "Total 0",
]


@pytest.fixture
def books(people: School) -> dict[str, str]:
    """The pages that tell of one private lesson of Noor's in January, not marked yet."""
    publish_a_term()
    lesson = make_offering("Private lesson", Kind.PRIVATE_LESSON, 50)
    teaches(people.ilse, lesson)
    make_booking(make_meeting(lesson, people.ilse, at("2027-01-20T16:00Z")), people.noor)
    days = "first_on=2027-01-01&last_on=2027-01-31"
    return {
        "account": f"/terms/{Term.objects.get().pk}/accounts/",
        "statement": f"/statements/new/?instructor={people.ilse.pk}&{days}",
    }


def read_aloud(page: Page) -> str:
    """The rows with the headings that stand beside the cells on a narrow screen."""
    said = page.evaluate(
        """() => [...document.querySelectorAll("tbody tr > *")]
          .filter(cell => cell.offsetParent !== null)
          .map(cell => [getComputedStyle(cell, "::before").content, cell.innerText].join(" "))
          .join(" ")"""
    )
    return " ".join(said.replace("none", "").replace('"', "").split())


@pytest.mark.parametrize(("name", "told"), [("account", ACCOUNT), ("statement", STATEMENT)])
def test_a_table_of_the_books_fits_a_phone(
    people: School, opens: Opens, books: dict[str, str], name: str, told: list[str]
) -> None:
    """At 390 px nothing is cut off, each number has its heading, and axe has nothing to say."""
    page = opens(people.dag, books[name], width=390)
    assert page.evaluate(OVER) <= 0
    said = read_aloud(page)
    for words in told:
        assert words in said, said
    assert "Carried in" not in said, "what is nothing is left out"
    assert violations(page) == []


def test_the_same_table_is_a_table_on_a_wide_screen(
    people: School, opens: Opens, books: dict[str, str]
) -> None:
    """Headings on top, once, and every number with them."""
    page = opens(people.dag, books["account"])
    assert page.get_by_role("columnheader", name="Carried in").is_visible()
    assert "Carried in" not in read_aloud(page)
    assert page.get_by_role("cell", name="1", exact=True).count() == 2
