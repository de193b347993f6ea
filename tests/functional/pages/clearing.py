"""The pages of hours that an instructor cannot teach, as a person sends them on."""

from html.parser import HTMLParser
from typing import Any

from django.test import Client

from tests.functional.pages.school import text_of

ADDRESS = "/hours/clear/"


class _Fields(HTMLParser):
    """What the page's own form would send, as it stands."""

    def __init__(self) -> None:
        super().__init__()
        self.sent: dict[str, str] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        name = values.get("name")
        if tag == "input" and name and name != "csrfmiddlewaretoken":
            is_sent = values.get("type") != "radio" or "checked" in values
            if is_sent:
                self.sent[name] = values.get("value") or ""


def form_of(page: str) -> dict[str, str]:
    """The fields of the preview with what is chosen on it."""
    fields = _Fields()
    fields.feed(page.partition("<main")[2])
    return fields.sent


def looked_at(client: Client, **sent: Any) -> tuple[str, dict[str, str]]:
    """The preview and its form."""
    page = text_of(client.post(ADDRESS, sent))
    return page, form_of(page)


def confirmed(client: Client, form: dict[str, str], **more: str) -> Any:
    return client.post(ADDRESS, {**form, **more, "done": "yes"})
