"""Versions of what changes: strong entity tags, If-Match and If-None-Match.

RFC 9110 sections 8.8.3, 13.1.1 and 13.1.2. A write is judged by the version and answered with its
tag. GET answers with a digest of its bytes behind the version, which tells whether reading again
would bring anything new: a booking tells its meeting's title and its reader's clock, too, and
neither raises its version.
"""

import hashlib
import re

from rest_framework.request import Request

from bookings.domain.errors import Refused

_DIGEST = re.compile(r'\.[0-9a-f]{16}"$')
NEEDED, HONOURED = "needed", "honoured"
_TAGS = re.compile(r'\s*(W/)?("[\x21\x23-\x7e\x80-\xff]*")\s*(?:,|$)')


def etag(thing: str, pk: int, version: int | str) -> str:
    """The entity tag of one version of one thing: "booking-12-3", quotes included."""
    return f'"{thing}-{pk}-{version}"'


def etag_of(thing: str, pk: int, said: object) -> str:
    """The entity tag of something without a version, made of what it says.

    It changes when any of `said` does.
    """
    return etag(thing, pk, hashlib.sha256(repr(said).encode()).hexdigest()[:16])


def of_bytes(tag: str, body: bytes) -> str:
    """The tag of what was sent: that of its version, with a digest of its bytes."""
    return f'{tag[:-1]}.{hashlib.sha256(body).hexdigest()[:16]}"'


def is_known(request: Request, tag: str) -> bool:
    """Whether If-None-Match names `tag`, or anything at all. Comparison is weak."""
    asked = request.headers.get("If-None-Match", "").strip()
    return asked == "*" or tag in {found for _, found in _TAGS.findall(asked)}


def need_version(request: Request) -> None:
    """Refused("version-needed") where a change does not say what it changes."""
    if "If-Match" not in request.headers:
        raise Refused(
            "version-needed",
            "Read it first, then send its ETag in If-Match, so that nobody's change is lost.",
        )


def version_asked(request: Request, thing: str, pk: int, version: int) -> int | None:
    """`version` if If-Match names it, None for `*` or no If-Match.

    `version` is the one just read. Refused("stale") where If-Match names another.
    """
    return version if names(request, etag(thing, pk, version)) else None


def names(request: Request, tag: str) -> bool:
    """Whether If-Match names `tag`; False for `*` or no If-Match.

    Refused("stale") where it names another. The comparison is strong: a weak tag never matches.
    """
    asked = request.headers.get("If-Match", "*").strip()
    if asked == "*":
        return False
    if tag not in {_DIGEST.sub('"', found) for weak, found in _TAGS.findall(asked) if not weak}:
        raise Refused("stale", "It has changed since you read it. Read it again, then decide.")
    return True
