"""Calendars by the thousand, written here and read back by two readers that share no code with each
other.
"""

import pytest

from tests.functional.outside.made import made
from tests.functional.outside.reader import Ask, expected, found
from tests.functional.outside.shapes import lines_of, read_by_icalendar


@pytest.mark.node
def test_generated_calendars_are_equal_in_both_readers(ical_js: Ask) -> None:
    """icalendar and ical.js 2.2.1 find every field of every meeting as it was meant, and each line
    is as RFC 5545 section 3.1 wants it: 1,000 calendars in the ci profile, 10,000 in the long one.
    """
    methods = set()
    for number, calendar in made():
        meant = [expected(event, calendar.method, calendar.recipient) for event in calendar.events]
        if not calendar.whole:
            meant = [{**meeting, "status": None} for meeting in meant]
        assert read_by_icalendar(calendar.written) == meant, number
        assert found(ical_js, calendar.written) == meant, number
        lines_of(calendar.written)
        methods.add((calendar.method, calendar.whole))
    assert methods == {(None, True), ("REQUEST", True), ("CANCEL", True), ("CANCEL", False)}
