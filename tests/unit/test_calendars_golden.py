"""Calendar files compared byte by byte with files that were read by eye; a fault found later
becomes one more of them.
"""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from bookings.calendars.feeds import feed
from bookings.calendars.invitations import cancel, download, request
from tests.unit.calendars_samples import (
    CALLED_OFF,
    CONSULTATION,
    GROUP,
    MARLO,
    NOOR,
    REPEATED_HOUR,
    SCHOOL,
    WINDOW,
)

GOLDEN = Path(__file__).parent.parent / "golden"
REINSTATED = CONSULTATION.stamp + timedelta(days=1)
"""A day after the REQUEST 0, its CANCEL 1 between them: RFC 5546 section 2.1.4."""
WRITTEN = {
    "request": lambda: request(CONSULTATION, SCHOOL, NOOR),
    "request_unanswered": lambda: request(GROUP, SCHOOL, MARLO, partstat="NEEDS-ACTION"),
    "request_repeated_hour": lambda: request(REPEATED_HOUR, SCHOOL, NOOR),
    "request_reinstated": lambda: request(
        replace(CONSULTATION, sequence=2, stamp=REINSTATED), SCHOOL, NOOR, partstat="NEEDS-ACTION"
    ),
    "cancel_whole": lambda: cancel(replace(CONSULTATION, sequence=1), SCHOOL, NOOR, whole=True),
    "cancel_one": lambda: cancel(replace(GROUP, sequence=4), SCHOOL, MARLO, whole=False),
    "download": lambda: download(GROUP, SCHOOL),
    "feed": lambda: feed(
        "Noor's lessons, all",
        "America/New_York",
        [REPEATED_HOUR, CALLED_OFF, GROUP, CONSULTATION],
        *WINDOW,
    ),
    "feed_empty": lambda: feed("Noor's lessons, all", "America/New_York", [], *WINDOW),
}


@pytest.mark.parametrize("name", WRITTEN)
def test_calendar_file_is_the_golden_one(name):
    """Each kind of calendar file is written exactly as the stored file."""
    assert WRITTEN[name]() == (GOLDEN / f"{name}.ics").read_bytes()


def test_every_golden_calendar_file_is_compared():
    """No golden file lies about unused."""
    assert {path.stem for path in GOLDEN.glob("*.ics")} == set(WRITTEN)
