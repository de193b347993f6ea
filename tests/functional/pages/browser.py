"""The browser of the page tests: who opens which page, and what axe looks for."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Browser, BrowserContext, Page

from accounts.models import User
from tests.cast import PASSWORD
from tests.functional.pages.school import School, as_user, make_school

FOCUS = """() => {
  const at = document.activeElement;
  return [(at.textContent || at.name || "").replace(/\\s+/g, " "), at.matches(":focus-visible")];
}"""
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
WIDER = "document.documentElement.scrollWidth > document.documentElement.clientWidth"
FIND = """rules => axe.run({runOnly: rules, resultTypes: ["violations"]})
  .then(found => found.violations)"""
Opens = Callable[..., Page]


def violations(page: Page, rules: list[str] = RULES) -> list[dict[str, Any]]:
    """The rules that the page breaks, each with its nodes.

    axe is read into a page once, and tells nothing of what passes: that took most of the time.
    """
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    found: list[dict[str, Any]] = page.evaluate(FIND, rules)
    return found


def faults_of(page: Page, name: str, look: Callable[[str], None] | None = None) -> list[str]:
    """What axe finds in a loaded page at two widths, in the light and the dark, and whether it is
    wider than a phone.

    Nothing but colours depends on the scheme. `look` is called with each width and scheme.
    """
    found = []
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 900})
        for scheme, rules in (("light", RULES), ("dark", ["color-contrast"])):
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            found += [
                f"{name} {width} {scheme}: {rule['id']} {rule['nodes'][0]['html'][:120]}"
                for rule in violations(page, rules)
            ]
            if look is not None:
                look(f"{width}-{scheme}")
    page.set_viewport_size({"width": 360, "height": 800})
    found += [f"{name}: too wide"] if page.evaluate(WIDER) else []
    page.set_viewport_size({"width": 1280, "height": 900})
    return found


@pytest.fixture
def people(transactional_db: None, live_server: Any) -> School:
    return make_school(PASSWORD)


@pytest.fixture
def opens(browser: Browser, live_server: Any) -> Iterator[Opens]:
    """Opens an address as a person; whatever the page's own policy had to stop fails the test."""
    contexts: list[BrowserContext] = []
    stopped: list[str] = []

    def open_as(
        user: User | None,
        address: str,
        *,
        width: int = 1280,
        time_zone: str | None = None,
        **options: Any,
    ) -> Page:
        zone = time_zone or (user.zone if user else "Europe/Dublin")
        context = browser.new_context(
            base_url=live_server.url,
            viewport={"width": width, "height": 900},
            timezone_id=zone,
            **options,
        )
        contexts.append(context)
        if user is not None:
            context.add_cookies(
                [
                    {
                        "name": "sessionid",
                        "value": as_user(user).cookies["sessionid"].value,
                        "url": live_server.url,
                    }
                ]
            )
        page = context.new_page()
        page.on(
            "console",
            lambda said: (
                stopped.append(said.text) if "Content Security Policy" in said.text else None
            ),
        )
        page.on("pageerror", lambda error: stopped.append(str(error)))
        page.goto(address)
        return page

    yield open_as
    for context in contexts:
        context.close()
    assert stopped == []


class Keys:
    """A keyboard that counts what is pressed on it."""

    def __init__(self, page: Page) -> None:
        self.page, self.pressed = page, 0

    def press(self, key: str, times: int = 1) -> None:
        for _ in range(times):
            self.page.keyboard.press(key)
            self.pressed += 1

    def write(self, text: str) -> None:
        self.page.keyboard.type(text)
        self.pressed += len(text)

    def tab_to(self, name: str, most: int = 120) -> None:
        """Tab until the field or button of that name has the focus."""
        for _ in range(most):
            self.press("Tab")
            here = self.page.evaluate(
                "() => { const at = document.activeElement;"
                " return [at.name, at.textContent.trim().replace(/\\s+/g, ' ')]; }"
            )
            if name in (here[0], here[1][: len(name)]):
                return
        raise AssertionError(f"{name} is not reached by keyboard")
