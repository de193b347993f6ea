"""Pictures of every golden mail, as a mail program shows its HTML: `python -m tests.mail_pictures`.

They go to var/mail-pictures: one of each mail, width and colour scheme, and sheets of several side
by side. Words on the command line choose mails by parts of their names.
"""

import sys
from html import escape
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from tests.golden_mails import golden
from tests.services import CHROMIUM

PICTURES = Path(__file__).parent.parent / "var/mail-pictures"
WIDTHS, SCHEMES = (390, 640), ("light", "dark")
ON_A_SHEET = 8


def main(wanted: list[str]) -> None:
    """Makes the pictures and prints their folder."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    chosen = [
        (mail.name, mail.html)
        for mail in golden()
        if not wanted or any(word in mail.name for word in wanted)
    ]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        for width in WIDTHS:
            for scheme in SCHEMES:
                _pictures(browser, chosen, width, scheme)
        browser.close()
    sys.stdout.write(f"{len(chosen)} mails: {PICTURES}\n")


def _pictures(browser: Browser, mails: list[tuple[str, str]], width: int, scheme: str) -> None:
    dark = scheme == "dark"
    page = browser.new_page(
        viewport={"width": width, "height": 600}, color_scheme="dark" if dark else "light"
    )
    for name, html in mails:
        page.set_content(html)
        page.screenshot(path=PICTURES / f"{name}.{width}.{scheme}.png", full_page=True)
    page.set_viewport_size({"width": width * 4 + 100, "height": 600})
    for first in range(0, len(mails), ON_A_SHEET):
        page.set_content(_sheet(mails[first : first + ON_A_SHEET], width))
        page.screenshot(path=PICTURES / f"sheet.{width}.{scheme}.{first}.png", full_page=True)
    page.close()


def _sheet(mails: list[tuple[str, str]], width: int) -> str:
    frames = "".join(
        f'<figure style="margin:0;width:{width}px"><figcaption>{escape(name)}</figcaption>'
        f'<iframe srcdoc="{escape(html)}" style="width:{width}px;height:640px;border:0"></iframe>'
        "</figure>"
        for name, html in mails
    )
    return (
        '<meta name="color-scheme" content="light dark">'
        f'<div style="display:flex;flex-wrap:wrap;gap:16px">{frames}</div>'
    )


if __name__ == "__main__":
    main(sys.argv[1:])
