"""The HTML part of a letter says what the plain part says, and asks nothing of anybody.

Whole letters are in tests/golden/mails.
"""

import re
from html.parser import HTMLParser

from hypothesis import given

from bookings.calendars.html import in_html
from bookings.calendars.text import clean
from tests.unit.calendars_samples import typed_text


class Read(HTMLParser):
    """The words of the body, and every element."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.in_body = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self.in_body |= tag == "body"

    def handle_data(self, data: str) -> None:
        if self.in_body:
            self.words += data.split()


def read(written: str) -> Read:
    parser = Read()
    parser.feed(written)
    parser.close()
    return parser


@given(typed_text, typed_text)
def test_html_has_the_same_words_and_no_element_that_text_brought(title, body):
    """Whatever is typed, the words are those of the plain part, and only our own few elements are
    there.
    """
    seen = read(in_html(title, body))
    assert "".join(seen.words) == "".join(clean(body).split())
    assert {tag for tag, _ in seen.elements} <= {
        "html",
        "head",
        "meta",
        "title",
        "body",
        "p",
        "br",
        "strong",
        "a",
    }


@given(typed_text)
def test_typed_markup_stays_text(text):
    """A script, an image or a handler that somebody types is shown as typed; only https addresses
    become links.
    """
    seen = read(
        in_html(
            "Booked",
            (
                f"<script>alert(1)</script>{text}<img src=x onerror=y>\n\n"
                "https://a.example/?q='\"><b> javascript:x"
            ),
        )
    )
    assert not {"script", "img", "b"} & {tag for tag, _ in seen.elements}
    assert all(
        re.match("https?://", fields["href"] or "") for tag, fields in seen.elements if tag == "a"
    )
    assert not any("src" in fields or "onerror" in fields for _, fields in seen.elements)
