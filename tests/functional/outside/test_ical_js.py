"""Feeds and invitations read back by ical.js under node: a second reader, with its own parser and
its own time zone code.
"""

import pytest

from bookings.calendars.feeds import feed
from bookings.calendars.invitations import request
from tests.functional.outside.reader import expected, found
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

pytestmark = pytest.mark.node


def test_ical_js_reads_the_feed(ical_js):
    """The told meetings, a called-off one and one in a repeated hour among them, reach a subscriber
    as they were meant.
    """
    written = feed(
        "Noor's lessons, all",
        "America/New_York",
        [REPEATED_HOUR, CALLED_OFF, GROUP, CONSULTATION],
        *WINDOW,
    )
    assert found(ical_js, written) == [
        expected(event) for event in (CALLED_OFF, CONSULTATION, GROUP, REPEATED_HOUR)
    ]


@pytest.mark.parametrize("event", [CONSULTATION, GROUP, REPEATED_HOUR])
@pytest.mark.parametrize("recipient", [NOOR, MARLO])
def test_ical_js_reads_an_invitation(ical_js, event, recipient):
    """The REQUEST that is mailed holds the meeting it is about."""
    assert found(ical_js, request(event, SCHOOL, recipient)) == [
        expected(event, "REQUEST", recipient)
    ]


def test_ical_js_reads_an_empty_feed(ical_js):
    """A feed without meetings is read without complaint."""
    assert found(ical_js, feed("Noor's lessons", "Asia/Kathmandu", [], *WINDOW)) == []
