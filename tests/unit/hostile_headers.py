"""Headers that a hostile mail may hold: each header that the reader looks at, with long runs of
each thing that parts it.
"""

from contextlib import suppress
from email import policy

import pytest

from bookings.calendars.ignoring import Ignored
from bookings.calendars.replies import read_reply

CALENDAR = (
    "BEGIN:VCALENDAR\r\nPRODID:-//Somebody//EN\r\nMETHOD:REPLY\r\nVERSION:2.0\r\nBEGIN:VEVENT\r\n"
    "ATTENDEE;PARTSTAT=ACCEPTED:mailto:b@rowanmere.example\r\nUID:u-1\r\nSEQUENCE:0\r\n"
    "DTSTAMP:19970612T190000Z\r\nDTSTART:19970701T210000Z\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
)
KIND = "Content-Type: text/calendar; method=REPLY; charset=UTF-8\r\n"
FROM, MIME = "From: <b@rowanmere.example>\r\n", "MIME-Version: 1.0\r\n"
PLAIN = f"{FROM}{MIME}{KIND}\r\n{CALENDAR}"
IN_PARTS = (
    f'{FROM}{MIME}Content-Type: multipart/mixed; boundary="b"\r\n\r\n'
    f"--b\r\n{KIND}Content-Transfer-Encoding: 7bit\r\n\r\n{CALENDAR}\r\n--b--\r\n"
)
# What parts, quotes, comments, encodes or continues in RFC 5322, 2045, 2047, 2231 and 8601; and one
# plain letter.
SEPARATORS = [
    *";,:<>()[]\"\\@.=/*'%?! \ta",
    *("a@b,", "a;", "a=b;", 'a="b";', "a*0=b;", "a*1*=utf-8''%41;", "=?", "=?utf-8?q?a?= "),
    *('"a" ', "(a)", '\\"', "<a@b>", "<@a,@b:c@d>", "a.", "[1]", "g:a@b;", "\xe9", "=41"),
]
HUGE = 20_000


def looked_at(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the headers that reading an answer parses: those the library's policy is asked
    for.
    """
    names: set[str] = set()
    parse = policy.EmailPolicy.header_fetch_parse

    def noted(self: policy.EmailPolicy, name: str, value: str) -> object:
        names.add(name.lower())
        return parse(self, name, value)

    with monkeypatch.context() as patch:
        patch.setattr(policy.EmailPolicy, "header_fetch_parse", noted)
        rare = ["Return-Path", "Auto-Submitted", "Precedence", "Delivered-To", "X-Original-To"]
        more = "".join(f"{name}: no\r\n" for name in [*rare, "To", "Cc"])
        for mail in (PLAIN, IN_PARTS):
            read_reply((more + mail).encode())
    return sorted(names)


def hostile(name: str, run: str) -> dict[str, bytes]:
    """One mail for each place in which that header may stand, by the place."""
    value = f"text/calendar; method=REPLY; {run}" if name.startswith("content-type") else run
    line = f"{name}: {value}\r\n"
    folded = f"{name}: {value[:60]}\r\n" + "".join(
        f" {value[at : at + 70]}\r\n" for at in range(60, len(value), 70)
    )
    head = "" if name == "from" else FROM
    return {
        "in one line": f"{line}{head}{MIME}{KIND}\r\n{CALENDAR}".encode(),
        "folded": f"{folded}{head}{MIME}{KIND}\r\n{CALENDAR}".encode(),
        "in a part": IN_PARTS.replace(KIND, f"{line}{KIND}").encode(),
    }


def read(mail: bytes) -> None:
    """Reads the mail; that it is ignored is fine."""
    with suppress(Ignored):
        read_reply(mail)
