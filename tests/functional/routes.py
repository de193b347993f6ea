"""Every address of the product, walked from the URLconf: what a check over all of them goes
through."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver
from django.urls.resolvers import RegexPattern

_SAMPLES = {
    "code": "taken",
    "app_label": "bookings",
    "object_id": "1",
    "content_type_id": "1",
    "file_id": "6b8f1c4e-0d52-4c7a-9b3e-2f1a5d7c8e90",
}
_REGEXES = {
    "^confirm-email/(?P<key>[-:\\w]+)/$": "confirm-email/made-up/",
    "^password/reset/key/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$": "password/reset/key/1-made-up/",
}


@dataclass(frozen=True, slots=True)
class Route:
    """One pattern: as it is written, and an address that it takes."""

    pattern: str
    path: str
    view: Any


def every_route() -> Iterator[Route]:
    """Each pattern once, the office's and the libraries' too."""
    yield from _walk(get_resolver().url_patterns, "", "/")


def _walk(patterns: list[Any], written: str, path: str) -> Iterator[Route]:
    for one in patterns:
        here, there = written + str(one.pattern), path + _sample(one)
        if isinstance(one, URLResolver):
            yield from _walk(one.url_patterns, here, there)
        else:
            yield Route(here, there, one.callback)


def _sample(one: URLPattern | URLResolver) -> str:
    text = str(one.pattern)
    if isinstance(one.pattern, RegexPattern):
        return _REGEXES.get(text, re.sub(r"[\^$]|\(\?P<\w+>.*?\)", "", text))
    return re.sub(r"<(?:\w+:)?(\w+)>", lambda found: _SAMPLES.get(found[1], "1"), text)
