"""The page for whoever came too often, in a browser: plain words, by keyboard, at two widths, light
and dark.
"""

from typing import Any

import pytest
from playwright.sync_api import Browser

from tests.cast import PASSWORD
from tests.functional.pages.browser import faults_of
from tests.functional.pages.school import make_school

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_page_for_too_many_attempts(
    transactional_db: None, live_server: Any, browser: Browser
) -> None:
    """Six wrong passwords lead to it; axe finds nothing and nothing hangs over the edge."""
    make_school(PASSWORD)
    context = browser.new_context(base_url=live_server.url, java_script_enabled=True)
    page = context.new_page()
    page.goto("/accounts/login/")
    for _ in range(6):
        page.get_by_label("Email address").fill("noor@rowanmere.example")
        page.get_by_label("Password").fill("guess")
        with page.expect_navigation():
            page.keyboard.press("Enter")
    assert page.get_by_role("heading", level=1).inner_text() == "Too many attempts"
    assert faults_of(page, "too many") == []
    context.close()
