"""The HTML part of an email: the words of the plain part, escaped, with nothing fetched from
anywhere.

Every email has this one layout. Its colours are those of the pages, light or dark as the reader's
program is. A program that drops the style sheet shows the same words in its own.

A line `Words: address` links the words. The first one that is a paragraph of its own asks for one
act and becomes a button, and so does each that asks for the same. One that begins with "To " only
says where something can be done; the link leaves the "To" out.
"""

import re
from html import escape
from itertools import groupby

from bookings.calendars.text import clean, one_line

_ADDRESS = re.compile(r"https?://[^\s<>\"]+[^\s<>\".,;:!?)]")
_NAMED = re.compile(rf"(\S(?:[^.\n]|\.(?! )){{0,58}}): ({_ADDRESS.pattern})")
"""A whole line of a short phrase and an address: the phrase can stand for the address."""
_GREETING = "Dear "
_ASIDE = "To "
_JOIN = "Join here"
_OTHER_CLOCK = "clock)"
"""How a time on somebody else's clock ends."""
_STYLE = """\
:root { color-scheme: light dark }
body { margin: 0; background: #fbf8f1; color: #1d2330 }
.page { max-width: 34em; margin: 0 auto; padding: 24px 20px; overflow-wrap: anywhere;
  font: 17px/1.5 Georgia, 'Times New Roman', serif }
.page a { color: inherit }
.page .time { margin: 1.2em 0; padding: .1em 0 .1em 1em; border-left: 3px solid #857b68 }
.page .act { margin: 1.6em 0 }
.page .act a { display: inline-block; padding: .6em 1.2em; background: #1d2330; color: #fbf8f1;
  font-weight: bold; text-decoration: none }
.page .end { margin-top: 2em; padding-top: .8em; border-top: 1px solid #ddd5c6; color: #565e6b }
.first { display: none; max-height: 0; overflow: hidden }
@media (prefers-color-scheme: dark) {
  body { background: #14171c; color: #ece6da }
  .page .time { border-color: #7f8492 }
  .page .act a { background: #ece6da; color: #14171c }
  .page .end { border-color: #343945; color: #aeab9f }
}
"""
_HEAD = (
    '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
    '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
    '<meta name="color-scheme" content="light dark">\n'
    '<meta name="supported-color-schemes" content="light dark">\n'
)


def in_html(title: str, body: str, *, site: str = "") -> str:
    """`body` as paragraphs, split at blank lines.

    The last one is the signature.
    `site` is how the addresses of our own pages begin: words stand for no other address, except
    for that of a room to join, because people may type words and addresses.
    """
    paragraphs = [part for part in re.split(r"\n{2,}", clean(body).strip("\n")) if part.strip()]
    asked = next(filter(None, (_asked(part, site) for part in paragraphs)), None)
    last = len(paragraphs) - 1
    written = "\n".join(
        _paragraph(
            part,
            "act" if asked and _asked(part, site) == asked else "end" if at == last else "",
            site,
        )
        for at, part in enumerate(paragraphs)
    )
    return (
        f"{_HEAD}<title>{escape(one_line(title))}</title>\n<style>\n{_STYLE}</style>\n</head>\n"
        f'<body>\n{_first_words(paragraphs)}<div class="page">\n{written}\n</div>\n</body>\n'
        "</html>\n"
    )


def _first_words(paragraphs: list[str]) -> str:
    """What a list of emails shows beside the title: the first words after the greeting."""
    if len(paragraphs) < 2 or not paragraphs[0].startswith(_GREETING):
        return ""
    return f'<div class="first" style="display:none">{escape(one_line(paragraphs[1]))}</div>\n'


def _asked(part: str, site: str) -> str:
    """The words of the act that a paragraph asks for; empty where it asks for none."""
    named = _named(part, site)
    return "" if named is None or part.startswith((_ASIDE, " ")) else named[1]


def _named(line: str, site: str) -> re.Match[str] | None:
    """The words and the address of a whole line, where the words may stand for the address."""
    found = _NAMED.fullmatch(line)
    if found is None:
        return None
    is_ours = bool(site) and found[2].startswith(f"{site}/")
    return found if is_ours or found[1] == _JOIN else None


def _paragraph(part: str, name: str, site: str) -> str:
    """The paragraph; its indented lines, which name times or things to do, are set off."""
    runs = groupby(part.split("\n"), key=lambda line: line.startswith("  "))
    return "\n".join(_run(list(lines), is_set_off, name, site) for is_set_off, lines in runs)


def _run(lines: list[str], is_set_off: bool, name: str, site: str) -> str:
    shown = [_linked(line.strip(), site) for line in lines]
    if is_set_off:
        name = "time"
        below = [*lines[1:], ""]
        for at, line in enumerate(lines):
            if _is_heading(line, below[at], is_alone=len(lines) == 1):
                shown[at] = f"<strong>{shown[at]}</strong>"
    kind = f' class="{name}"' if name else ""
    return f"<p{kind}>" + "<br>\n".join(shown) + "</p>"


def _is_heading(line: str, below: str, *, is_alone: bool) -> bool:
    """Whether the line is the reader's own clock, or names what the links below it are about."""
    is_above_links = bool(_ADDRESS.search(below)) and not _ADDRESS.search(line)
    return is_alone or below.endswith(_OTHER_CLOCK) or is_above_links


def _linked(line: str, site: str) -> str:
    named = _named(line, site)
    if named is not None:
        words = named[1].removeprefix(_ASIDE) or named[1]
        return f'<a href="{escape(named[2])}">{escape(words[0].upper() + words[1:])}</a>'
    parts, at = [], 0
    for found in _ADDRESS.finditer(line):
        address = escape(found[0])
        parts += [escape(line[at : found.start()]), f'<a href="{address}">{address}</a>']
        at = found.end()
    return "".join([*parts, escape(line[at:])])
