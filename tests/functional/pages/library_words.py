"""The sentences of the libraries, from their own catalogues, and what of a page a person reads."""

import ast
import re
from collections.abc import Iterator
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import allauth
import django

_CATALOGUES = [
    Path(allauth.__file__).parent / "locale/en/LC_MESSAGES/django.po",
    Path(django.__file__).parent / "contrib/auth/locale/en/LC_MESSAGES/django.po",
    Path(django.__file__).parent / "conf/locale/en/LC_MESSAGES/django.po",
]
_MESSAGE = re.compile(r'^msgid(?:_plural)? ((?:"(?:[^"\\]|\\.)*"\n)+)', re.MULTILINE)
_PLACE = re.compile(r"%\(\w+\)[sd]|%[sd]|\{\w+\}")
OWN = {"Email address", "Sign in", "Sign out", "New password", "Recovery codes"}
"""Words of one's own language, which a library happens to use too; a single word is nobody's wording."""


def messages_in(catalogue: Path) -> Iterator[str]:
    """Every msgid of a catalogue, with its lines joined."""
    for found in _MESSAGE.finditer(catalogue.read_text(encoding="utf-8")):
        text = "".join(ast.literal_eval(line) for line in found[1].splitlines())
        if text:
            yield text


@cache
def _library() -> list[re.Pattern[str]]:
    """A pattern for each text of two words or more."""
    texts = {said for path in _CATALOGUES for said in messages_in(path)} - OWN
    return [
        _as_pattern(text) for text in texts if re.search(r"[a-z]\W+[A-Za-z]", _PLACE.sub("", text))
    ]


def _as_pattern(text: str) -> re.Pattern[str]:
    plain = [re.escape(" ".join(part.split())) for part in _PLACE.split(text)]
    return re.compile(r"\s*.*?\s*".join(plain))


def library_words(page: str) -> list[str]:
    """What a library wrote of all that a person reads on this page."""
    reader = _Reader()
    reader.feed(page)
    return [said for said in reader.said if any(one.fullmatch(said) for one in _library())]


class _Reader(HTMLParser):
    """Text, and the attributes that are shown or read aloud."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        shown = [
            value for name, value in attrs if name in ("placeholder", "alt", "title", "aria-label")
        ]
        self.said += [" ".join(value.split()) for value in shown if value]

    def handle_data(self, data: str) -> None:
        text = " ".join(data.split()).removeprefix("· ")
        if text:
            # An error stands behind its field's name, and a title before the school's.
            self.said += [text, *text.split(": ")[1:], text.split(" · ")[0]]
