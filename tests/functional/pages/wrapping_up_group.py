"""A group meeting that is just over, and its wrap-up as a form sends it."""

import re
from datetime import timedelta
from typing import Any

from bookings.models import Meeting
from tests.cast import at, make_booking, make_meeting
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School

START = at("2027-03-01T13:00Z")
COMMON = {"heard": "Airs by ear\nPlacing drill", "next_steps": "Sing it before you play it"}


def just_over(school: School, hands: Hands) -> Meeting:
    """Ilse's group today with Noor, Marlo and Posy, over for half an hour."""
    hands.at = START + timedelta(minutes=90)
    meeting = make_meeting(school.group, school.ilse, START, title="Airs by ear", places=6)
    for student in (school.noor, school.marlo, school.posy):
        make_booking(meeting, student)
    return meeting


def where(meeting: Meeting) -> str:
    return f"/wrap-up/meetings/{meeting.pk}/"


def place_of(meeting: Meeting, who: str) -> int:
    return next(row.pk for row in meeting.bookings.all() if row.student.first_name == who)


def sent(page: str, **more: Any) -> dict[str, Any]:
    """The form as the page shows it: everybody present, with the common text."""
    read = re.search(r'name="read" value="([^"]*)"', page)
    marks = dict.fromkeys(re.findall(r'<select name="(mark-\d+)"', page), "PRESENT")
    return {**marks, **COMMON, "read": read[1] if read else "", **more}


def shown(page: str) -> dict[str, Any]:
    """The form of the page that asks once more."""
    read = re.search(r'name="read" value="([^"]*)"', page)
    return {
        "read": read[1] if read else "",
        "shown": re.findall(r'name="shown" value="(\d+)"', page),
    }
