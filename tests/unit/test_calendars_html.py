"""The HTML part of a letter says what the plain part says, and asks nothing of anybody."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given

from bookings.calendars.html import in_html
from bookings.calendars.text import clean
from tests.unit.calendars_samples import typed_text

GOLDEN = Path(__file__).parent.parent / "golden"
_END = "To look or to change something: https://school.rowanmere.example/my-lessons/\n\nRowanmere Online Harp School\n"
_TIMES = "  Monday 15 March 2027, 17:00–17:25, New York\n  Tuesday 16 March 2027, 08:00–08:25, Lord Howe (Bram’s clock)"
LETTERS = {
    "letter_booked": (
        "Booked: Consultation with B. Tolliver, Mon 15 March 17:00, New York",
        f"Dear Noor Ashgrove,\n\nYou have a place: Consultation with B. Tolliver.\n\n{_TIMES}\n\nJoin here: "
        "https://rooms.rowanmere.example/bram?a=1&b=2\n\n"
        f"You can still cancel without owing until Sun 14 March 17:00, New York.\n\n{_END}",
    ),
    "letter_cancelled": (
        "Cancelled: Consultation with B. Tolliver, Mon 15 March 17:00, New York",
        f"Dear Noor Ashgrove,\n\nYour meeting is cancelled: Consultation with B. Tolliver.\n\n{_TIMES}\n\n{_END}",
    ),
    "letter_reinstated": (
        "Takes place after all: Consultation with B. Tolliver, Mon 15 March 17:00, New York",
        "Dear Noor Ashgrove,\n\nThe meeting that was called off takes place after all: Consultation with B. Tolliver. "
        f"Your place is kept as it was.\n\n{_TIMES}\n\nJoin here: https://rooms.rowanmere.example/bram?a=1&b=2\n\n"
        f"You can still cancel without owing until Sun 14 March 17:00, New York.\n\n{_END}",
    ),
    "letter_not_moved": (
        "Not moved: Consultation with B. Tolliver, Mon 15 March 17:00, New York",
        "Dear Noor Ashgrove,\n\nThe meeting cannot be moved to Wed 17 March 17:00, New York. It stays as it is: Consultation with "
        f"B. Tolliver.\n\n{_TIMES}\n\n{_END}",
    ),
}


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


@pytest.mark.parametrize("name", LETTERS)
def test_letter_in_html_is_the_golden_one(name):
    """Each kind of letter is written exactly as the stored file, which was looked at on a narrow and a wide screen."""
    assert in_html(*LETTERS[name]) == (GOLDEN / f"{name}.html").read_text(encoding="utf-8")


def test_every_golden_letter_is_compared():
    """No golden letter lies about unused."""
    assert {path.stem for path in GOLDEN.glob("*.html")} == set(LETTERS)


@given(typed_text, typed_text)
def test_html_has_the_same_words_and_no_element_that_text_brought(title, body):
    """Whatever is typed, the words are those of the plain part, and only our own few elements are there."""
    seen = read(in_html(title, body))
    assert "".join(seen.words) == "".join(clean(body).split())
    assert {tag for tag, _ in seen.elements} <= {"html", "head", "meta", "title", "body", "p", "br", "strong", "a"}


@given(typed_text)
def test_typed_markup_stays_text(text):
    """A script, an image or a handler that somebody types is shown as typed; only https addresses become links."""
    seen = read(in_html("Booked", f"<script>alert(1)</script>{text}<img src=x onerror=y>\n\nhttps://a.example/?q='\"><b> javascript:x"))
    assert not {"script", "img", "b"} & {tag for tag, _ in seen.elements}
    assert all(re.match("https?://", fields["href"] or "") for tag, fields in seen.elements if tag == "a")
    assert not any("src" in fields or "onerror" in fields for _, fields in seen.elements)
