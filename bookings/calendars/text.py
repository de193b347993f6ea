"""Text that people typed, made safe for a calendar file and an email."""

import re

_LINE_ENDS = re.compile("\r\n|[\r\x85\u2028\u2029]")
_CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ufeff]")
_LONE_SURROGATES = re.compile("[\ud800-\udfff]")

_ATOM = r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+"
ADDRESS = re.compile(rf"{_ATOM}(\.{_ATOM})*@[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)*")
"""A mail address or the inside of a Message-ID in its plain form: dot-atoms (RFC 5322 section
3.2.3) without quotes or comments.
"""


def clean(text: str) -> str:
    """`text` without control characters; every kind of line end becomes a newline and a tab a
    space.

    RFC 5545 section 3.1 allows no control character but the tab in a value. U+0085, U+2028 and
    U+2029 end a line for some programs and not for others. U+FEFF is a byte order mark, which
    programs drop at the beginning.
    """
    text = _LINE_ENDS.sub("\n", text).replace("\t", " ")
    return _LONE_SURROGATES.sub("\ufffd", _CONTROLS.sub("", text))


def one_line(text: str) -> str:
    """`text` after `clean`, on one line."""
    return clean(text).replace("\n", " ").strip()
