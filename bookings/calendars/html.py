"""The HTML part of an email: the words of the plain part, escaped, with nothing fetched from
anywhere.

Light and dark follow the reader's own colours: the page sets none except a rule and a tint that
stand out on both.
"""

import re
from html import escape

from bookings.calendars.text import clean, one_line

_ADDRESS = re.compile(r"https?://[^\s<>\"]+[^\s<>\".,;:!?)]")
_HEAD = (
    '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
    '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
    '<meta name="color-scheme" content="light dark">\n'
)
_STYLE = (
    "font-family:Georgia,'Times New "
    "Roman',serif;font-size:17px;line-height:1.5;max-width:34em;margin:0 auto;padding:20px;"
    "overflow-wrap:anywhere"
)
_TIMES = "margin:1.2em 0;padding:.1em 0 .1em 1em;border-left:3px solid #8a7a55"


def in_html(title: str, body: str) -> str:
    """`body` as paragraphs, split at blank lines.

    A paragraph with all lines indented names a time and is set off.
    """
    paragraphs = [part for part in re.split(r"\n{2,}", clean(body).strip("\n")) if part.strip()]
    written = "\n".join(_paragraph(part) for part in paragraphs)
    return (
        f"{_HEAD}<title>{escape(one_line(title))}</title>\n</head>\n"
        f'<body style="{_STYLE}">\n{written}\n</body>\n</html>\n'
    )


def _paragraph(part: str) -> str:
    lines = part.split("\n")
    is_set_off = all(line.startswith("  ") for line in lines)
    shown = [_linked(line.strip()) for line in lines]
    if is_set_off:
        shown[0] = f"<strong>{shown[0]}</strong>"  # the reader's own clock comes first
    style = f' style="{_TIMES}"' if is_set_off else ""
    return f"<p{style}>" + "<br>\n".join(shown) + "</p>"


def _linked(line: str) -> str:
    parts, at = [], 0
    for found in _ADDRESS.finditer(line):
        address = escape(found[0])
        parts += [escape(line[at : found.start()]), f'<a href="{address}">{address}</a>']
        at = found.end()
    return "".join([*parts, escape(line[at:])])
