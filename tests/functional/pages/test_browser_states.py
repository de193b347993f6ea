"""The states of an admin's pages in Debian's chromium: axe at two widths, light and dark; what is
wrong stands beside its field.
"""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.functional.pages import states
from tests.functional.pages.browser import Opens, faults_of
from tests.functional.pages.every_program import one_webhook
from tests.functional.pages.school import School
from tests.functional.pages.states import State

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True), pytest.mark.heavy]

UNSAID = """() => [...document.querySelectorAll(".errors a")]
  .map(link => document.getElementById(link.getAttribute("href").slice(1)))
  .filter(field => !field?.closest(".field")?.querySelector(".why")).length"""
"""How many links of the summary lead to a field that does not say what is wrong with it."""


def lead_to(page: Page, state: State) -> None:
    """Types and presses as the state says; the browser's own checks are off."""
    page.goto(state.at)
    for name, text in state.types.items():
        field = page.locator(f"main [name={name}]").first
        is_select = field.evaluate("field => field.tagName") == "SELECT"
        field.select_option(text) if is_select else field.fill(text)
    for name in state.ticks:
        page.locator(f"main [name={name}]").first.check()
    if state.file is not None:
        content = {"name": "people.csv", "mimeType": "text/csv", "buffer": state.file.encode()}
        page.locator("input[type=file]").set_input_files([content])  # type: ignore[list-item]
    for button in state.presses:
        page.evaluate("document.querySelectorAll('form').forEach(form => form.noValidate = true)")
        page.get_by_role("button", name=button, exact=True).first.click()
    expect(page.locator("main")).to_contain_text(state.shows)


@pytest.mark.parametrize(
    "states_of", [states.refused, states.shown_first, states.done, states.empty]
)
def test_axe_finds_nothing_in_any_state(
    people: School, opens: Opens, states_of: Callable[[School], list[State]]
) -> None:
    """Refused, shown first, done and empty."""
    page, found = opens(people.dag, "/me/"), []
    for state in states_of(people):
        lead_to(page, state)
        found += faults_of(page, f"{state.at} {state.shows}")
    assert found == []


def test_what_is_wrong_stands_beside_its_field(people: School, opens: Opens) -> None:
    """The summary on top leads to each field, and the field says it again."""
    page, found = opens(people.dag, "/me/"), []
    for state in states.refused(people):
        lead_to(page, state)
        is_said = page.locator(".errors a").count() and not page.evaluate(UNSAID)
        found += [] if is_said else [f"{state.at} {state.shows}"]
    assert found == []


def test_a_table_that_scrolls_sideways_says_so(people: School, opens: Opens) -> None:
    """On a phone, above each such table; not on a screen that holds it."""
    page = opens(people.dag, f"/programs/told/{one_webhook().pk}/")
    hint = page.get_by_text("The table is wider than your screen")
    for width, is_cut in ((1280, False), (752, False), (750, True), (390, True)):
        page.set_viewport_size({"width": width, "height": 900})
        table = page.locator(".scrolls").first
        assert table.evaluate("at => at.scrollWidth > at.clientWidth") is is_cut, width
        assert hint.is_visible() is is_cut, width
