"""Limits on the headers of a stranger's mail, checked before any header is parsed.

The standard library parses a header in time that grows with the square of its length. Its policy
sees each header of each part as it was written, and parses only requested ones.
"""

from collections.abc import Iterator, Sequence
from email.message import EmailMessage
from email.policy import EmailPolicy

MOST_PARSED = 998
"""Characters of one parsed header, folds included: a line of a mail has no more (RFC 5322 section
2.1.1).
"""
MOST_PARSED_IN_ALL = 8_000
MOST_IN_ALL = 64 * 1024
"""Characters of all headers of all parts. Servers on the way add long ones, which are not
parsed.
"""
MOST_TYPES = 50
"""Content types, one a part: each nested part costs a look at every line."""

PARSED = frozenset(
    {
        "auto-submitted",
        "cc",
        "content-transfer-encoding",
        "content-type",
        "delivered-to",
        "from",
        "precedence",
        "return-path",
        "to",
        "x-original-to",
    }
)
"""The parsed headers; a test asks the library which they are."""


class TooMuchHeader(ValueError):
    """A header, or all headers together, are too long for an honest mail."""


class Meter:
    """Counts the headers of one mail."""

    def __init__(self) -> None:
        self._all = self._parsed = self._types = 0

    def count(self, name: str, length: int) -> None:
        """Raises TooMuchHeader when a limit is passed."""
        self._all += length
        if name in PARSED:
            self._parsed += length
            self._types += name == "content-type"
            if length > MOST_PARSED:
                raise TooMuchHeader
        if self._all > MOST_IN_ALL or self._parsed > MOST_PARSED_IN_ALL or self._types > MOST_TYPES:
            raise TooMuchHeader


class MeteredPolicy(EmailPolicy):
    """The library's default policy with a meter. Each mail needs a new policy."""

    meter: Meter

    def __init__(self) -> None:
        super().__init__()  # type: ignore[call-arg]
        object.__setattr__(self, "meter", Meter())  # a policy refuses any other way of changing it

    def header_source_parse(self, sourcelines: Sequence[str]) -> tuple[str, str]:
        name, value = super().header_source_parse(sourcelines)  # type: ignore[arg-type]
        self.meter.count(name.lower(), sum(map(len, sourcelines)))
        return name, value


def written(message: EmailMessage, name: str) -> Iterator[str]:
    """The values of the mail's own headers of that name, topmost first, unparsed."""
    for found, value in message.raw_items():
        if found.lower() == name.lower():
            yield str(value)
