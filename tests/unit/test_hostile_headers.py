"""No header of a stranger's mail costs more than a little, whatever it is made of. Source: CWE-407,
inefficient algorithms.
"""

import sys
from types import FrameType
from typing import Any

import pytest

from bookings.calendars.ignoring import Ignored
from bookings.calendars.mail_headers import MOST_PARSED, MOST_PARSED_IN_ALL, PARSED
from bookings.calendars.replies import read_reply
from tests.unit.hostile_headers import HUGE, PLAIN, SEPARATORS, hostile, looked_at, read

MOST_CALLS = 300_000
"""Calls of functions while one mail is read, a count that no machine's speed changes. An honest
answer takes 8,000.
"""


class TooDear(Exception):
    """The mail has cost more calls than it may."""


def calls_of(mail: bytes) -> int:
    """How many functions were called while the mail was read; it ends at the limit."""
    calls = 0

    def count(frame: FrameType, event: str, argument: Any) -> None:
        nonlocal calls
        calls += event in ("call", "c_call")
        if calls > MOST_CALLS:
            raise TooDear

    sys.setprofile(count)
    try:
        read(mail)
    except TooDear:
        pass
    finally:
        sys.setprofile(None)
    return calls


def test_every_header_that_is_parsed_costs_little(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each header that the reader looks at, each separator, 20,000 bytes of it: on one line,
    folded, and in a part.
    """
    dear = {
        (name, run, place)
        for name in looked_at(monkeypatch)
        for run in SEPARATORS
        for place, mail in hostile(name, run * (HUGE // len(run))).items()
        if calls_of(mail) > MOST_CALLS
    }
    assert not dear


def test_a_header_just_below_the_limit_costs_little(monkeypatch: pytest.MonkeyPatch) -> None:
    """As long as it may be. All of them together may be eight times as long, and cost eight times
    as much.
    """
    longest = MOST_PARSED - 60
    assert MOST_PARSED_IN_ALL // MOST_PARSED == 8
    dear = {
        (name, run)
        for name in looked_at(monkeypatch)
        for run in SEPARATORS
        if calls_of(hostile(name, run * (longest // len(run)))["in one line"]) > MOST_CALLS
    }
    assert not dear


def test_the_meter_knows_every_header_that_is_parsed(monkeypatch: pytest.MonkeyPatch) -> None:
    """The names the library was asked for are those whose length is limited."""
    assert set(looked_at(monkeypatch)) == PARSED


def test_long_headers_that_nobody_parses_are_let_through() -> None:
    """What servers on the way add, 30 of 1,500 characters, makes no honest answer hostile."""
    received = "Received: " + "x" * 1_490 + "\r\n"
    assert read_reply((received * 30 + PLAIN).encode()).partstat == "ACCEPTED"
    with pytest.raises(Ignored):
        read_reply((received * 50 + PLAIN).encode())
