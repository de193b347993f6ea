"""Feeds and invitations read back by ical.js under node: a second reader, with its own parser and its own time zone code."""

import fcntl
import json
import subprocess
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.calendars.feeds import feed
from bookings.calendars.invitations import request
from bookings.calendars.text import clean, one_line
from tests import services
from tests.unit.calendars_samples import CALLED_OFF, CONSULTATION, GROUP, MARLO, NOOR, REPEATED_HOUR, SCHOOL, WINDOW, events

pytestmark = pytest.mark.node

READER = Path(__file__).parent / "ical_js" / "read.mjs"
FOLDER = Path(__file__).parents[2] / "var" / "node"
LIBRARY = FOLDER / "node_modules" / "ical.js"


def installed():
    """The path of ical.js 2.2.1, fetched once into an ignored folder; None where the registry does not answer."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    with (FOLDER / "lock").open("w") as lock:  # parallel test processes share the folder
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (LIBRARY / "package.json").exists():
            command = ["npm", "install", "--no-save", "--no-package-lock", "--no-audit", "--no-fund", "ical.js@2.2.1"]
            try:
                subprocess.run(command, cwd=FOLDER, check=True, capture_output=True, timeout=60)
            except (subprocess.CalledProcessError, subprocess.TimeoutExpired):
                return None
    return LIBRARY / "dist" / "ical.js"


@pytest.fixture(scope="module")
def read():
    """A function from the bytes of a calendar file to what ical.js makes of its meetings."""
    library = installed()
    if library is None:
        (pytest.fail if services.required() else pytest.skip)("ical.js could not be fetched with npm")
    with subprocess.Popen(["node", READER, library], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8") as node:

        def ask(written):
            print(json.dumps(written.decode()), file=node.stdin, flush=True)
            return json.loads(node.stdout.readline())

        yield ask
        node.stdin.close()


def expected(event, method=None):
    """What any reader must find of an event."""
    return {
        "uid": event.uid,
        "sequence": event.sequence,
        "starts_at": event.starts_at,
        "ends_at": event.ends_at,
        "summary": one_line(event.summary),
        "description": clean(event.description),
        "location": event.join_address,
        "conference": event.join_address,
        "status": event.status,
        "method": method,
    }


def found(read, written):
    return [
        {**meeting, "starts_at": datetime.fromisoformat(meeting["starts_at"]), "ends_at": datetime.fromisoformat(meeting["ends_at"])}
        for meeting in read(written)
    ]


def test_ical_js_reads_the_feed(read):
    """The told meetings, a called-off one and one in a repeated hour among them, reach a subscriber as they were meant."""
    written = feed("Noor's lessons, all", "America/New_York", [REPEATED_HOUR, CALLED_OFF, GROUP, CONSULTATION], *WINDOW)
    assert found(read, written) == [expected(event) for event in (CALLED_OFF, CONSULTATION, GROUP, REPEATED_HOUR)]


@pytest.mark.parametrize("event", [CONSULTATION, GROUP, REPEATED_HOUR])
@pytest.mark.parametrize("recipient", [NOOR, MARLO])
def test_ical_js_reads_an_invitation(read, event, recipient):
    """The REQUEST that is mailed holds the meeting it is about."""
    assert found(read, request(event, SCHOOL, recipient)) == [expected(event, "REQUEST")]


def test_ical_js_reads_an_empty_feed(read):
    """A feed without meetings is read without complaint."""
    assert found(read, feed("Noor's lessons", "Asia/Kathmandu", [], *WINDOW)) == []


@given(meetings=st.lists(events(), min_size=1, max_size=10, unique_by=lambda event: event.uid))
def test_ical_js_reads_any_calendar(read, meetings):
    """Generated meetings, many of them around clock changes, are equal in ical.js: every instant and every character."""
    by_time = sorted(meetings, key=lambda event: (event.starts_at, event.uid))
    assert found(read, feed("All", "Europe/London", meetings, *WINDOW)) == [expected(event) for event in by_time]
    invited = replace(meetings[0], status="CONFIRMED")
    assert found(read, request(invited, SCHOOL, NOOR)) == [expected(invited, "REQUEST")]
