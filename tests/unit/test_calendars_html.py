"""The HTML part of a letter says what the plain part says, and asks nothing of anybody.

Whole letters are in tests/golden/mails.
"""

import re
from html.parser import HTMLParser

import pytest
from hypothesis import given

from bookings.calendars.html import in_html
from bookings.calendars.text import clean
from tests.golden_mails import GoldenMail, golden
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
        # The page is what is shown; before it stand the hidden first words.
        self.in_body |= dict(attrs).get("class") == "page"

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
        "style",
        "body",
        "div",
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


SITE = "https://school.rowanmere.example"
MAILS = list(golden())


class Words(HTMLParser):
    """The page of an email as plain text: a link as its words and its address."""

    def __init__(self) -> None:
        super().__init__()
        self.text, self.inside, self.address, self.in_page = "", "", "", False
        self.asked: set[str] = set()
        self.is_button = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        fields = dict(attrs)
        self.in_page |= fields.get("class") == "page"
        self.is_button = fields.get("class") == "act" if tag == "p" else self.is_button
        if tag == "a":
            self.address, self.inside = fields["href"] or "", ""

    def handle_data(self, data: str) -> None:
        self.text += data if self.in_page else ""
        self.inside += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "a" and self.is_button:
            self.asked.add(self.inside)
        if tag == "a" and self.inside != self.address:
            self.text += f": {self.address}"


def words_of(written: str) -> Words:
    reader = Words()
    reader.feed(written)
    reader.close()
    return reader


@pytest.mark.parametrize("mail", MAILS, ids=[mail.name for mail in MAILS])
def test_every_email_says_the_same_twice_and_fetches_nothing(mail: GoldenMail) -> None:
    """Words and addresses of the HTML part are those of the plain part, in order; a link leaves out
    the "To" before its words. Buttons for one act at most, a language, both colour schemes, and
    nothing from elsewhere.
    """
    shown = words_of(mail.html)
    plain = re.sub(r"^To (?=.*: https)", "", mail.plain, flags=re.MULTILINE)
    assert "".join(shown.text.split()).lower() == "".join(plain.split()).lower()
    assert len(shown.asked) <= 1
    assert '<html lang="en">' in mail.html and "prefers-color-scheme: dark" in mail.html
    assert not re.search(r"\bsrc\b|<link|<img|url\(|@import|<script", mail.html)


def test_words_stand_for_our_own_addresses_only():
    """Somebody may type words and an address; the address is then shown, and is no button."""
    typed = "Sign in: https://elsewhere.example/accounts/"
    almost = "Sign in: https://school.rowanmere.example.evil.example/"
    for line in (typed, almost, "To : https://elsewhere.example/"):
        seen = in_html("Booked", f"Dear Noor,\n\n{line}\n\nThe school\n", site=SITE)
        assert 'class="act"' not in seen and f">{line.partition(': ')[2]}</a>" in seen
    ours = f"To : {SITE}/a/\n\nSign in: {SITE}/accounts/\n\nThe school\n"
    assert in_html("Booked", ours, site=SITE).count('class="act"') == 1


def test_the_first_words_of_a_list_of_emails_are_not_the_greeting():
    """A program that shows the beginning of each email shows what it is about, once."""
    seen = in_html("Booked", "Dear Noor,\n\nYou have a <lesson>.\n\nThe school\n")
    assert '<div class="first" style="display:none">You have a &lt;lesson&gt;.</div>' in seen
    assert words_of(seen).text.split()[:2] == ["Dear", "Noor,"]
