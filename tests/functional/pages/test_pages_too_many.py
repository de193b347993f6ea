"""The page for whoever came too often, in a browser: plain words, by keyboard, at two widths, light and dark."""

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from tests.cast import PASSWORD
from tests.functional.pages.browser import RULES
from tests.functional.pages.school import make_school

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_page_for_too_many_attempts(
    transactional_db: None, live_server: Any, browser: Browser, tmp_path: Any
) -> None:
    """Six wrong passwords lead to it; axe finds nothing and nothing hangs over the edge."""
    make_school(PASSWORD)
    context = browser.new_context(base_url=live_server.url, java_script_enabled=True)
    page, axe, found = context.new_page(), Axe(), []
    page.goto("/accounts/login/")
    for _ in range(6):
        page.get_by_label("Email address").fill("noor@rowanmere.example")
        page.get_by_label("Password").fill("guess")
        with page.expect_navigation():
            page.keyboard.press("Enter")
    assert page.get_by_role("heading", level=1).inner_text() == "Too many attempts"
    for width in (1280, 390):
        for scheme in ("light", "dark"):
            page.set_viewport_size({"width": width, "height": 700})
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            page.screenshot(path=tmp_path / f"too-many-{width}-{scheme}.png")
            found += axe.run(page, options={"runOnly": RULES}).response["violations"]
    page.set_viewport_size({"width": 360, "height": 800})
    over = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert (found, page.evaluate(over)) == ([], 0)
    context.close()
