"""What docs/api.md tells a developer to send is answered as it says."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.test import Client

from bookings import clock
from bookings.operations.tokens import make_token
from tests import cast
from tests.functional.api.school import School

PAGE = Path(__file__).parents[3] / "docs" / "api.md"
MOST_LINES = 130
_BLOCK = re.compile(r"```http\n(.*?)```", re.DOTALL)
_PLACE = re.compile(r"<([a-z' ]+)>")


class Example:
    """One request of the page and the answer that it promises."""

    def __init__(self, text: str) -> None:
        head, _, answer = re.split(r"\n\n(?=(\d{3})(?:\n|$))", text.strip(), maxsplit=1)
        self.status, _, promised = answer.partition("\n")
        self.promised: Any = json.loads(promised) if promised.strip() else {}
        lines, self.body, self.headers = head.split("\n"), "", {}
        self.verb, self.address = lines.pop(0).split(" ", 1)
        while lines and re.match(r"[A-Z][A-Za-z-]+: ", lines[0]):
            name, value = lines.pop(0).split(": ", 1)
            self.headers[name] = value
        self.body = "\n".join(lines).strip()


EXAMPLES = [Example(block) for block in _BLOCK.findall(PAGE.read_text())]


def filled(text: str, known: dict[str, str]) -> str:
    """The text with what earlier answers said in its places."""
    return _PLACE.sub(lambda place: known[place[1]], text)


def remembered(promised: Any, said: Any) -> Iterator[tuple[str, str]]:
    """What the answer says in each place of what was promised; everything else is as promised."""
    if isinstance(promised, dict):
        for name, value in promised.items():
            yield from remembered(value, said[name])
    elif isinstance(promised, list):
        assert len(said) >= len(promised)
        for one, other in zip(promised, said, strict=False):
            yield from remembered(one, other)
    elif isinstance(promised, str) and (place := _PLACE.fullmatch(promised)):
        yield place[1], str(said)
    else:
        assert said == promised


def test_the_page_is_one_screen_of_examples() -> None:
    """The page stays short, and its examples are found."""
    assert len(PAGE.read_text().splitlines()) <= MOST_LINES
    assert len(EXAMPLES) >= 9
    assert {"POST", "GET"} == {one.verb for one in EXAMPLES}


def test_every_example_is_answered_as_the_page_says(school: School) -> None:
    """In the order of the page, by a program that knows nothing but what it has been answered."""
    noor = cast.user_of(school.noor)
    noor.email = "noor.ashgrove@rowanmere.example"
    noor.set_password("slow-practice-first")
    noor.save()
    _, token = make_token(school.dag, now=clock.machine())
    known, program = {"admin's token": token}, Client()
    for example in EXAMPLES:
        parts = urlsplit(filled(example.address, known))
        answer = program.generic(
            example.verb,
            f"{parts.path}?{parts.query}" if parts.query else parts.path,
            filled(example.body, known),
            content_type="application/json",
            headers={name: filled(value, known) for name, value in example.headers.items()},
        )
        assert answer.status_code == int(example.status), (example.address, answer.content)
        said = answer.json() if answer.content else {}
        known |= dict(remembered(example.promised, said))
        if "ETag" in answer.headers:
            known["etag"] = answer.headers["ETag"]
