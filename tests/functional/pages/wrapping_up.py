"""A consultation that is just over, and its wrap-up as a form sends it."""

import re
from datetime import timedelta
from typing import Any

from bookings.models import Booking
from tests.cast import at, make_booking, make_meeting
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School

START = at("2027-03-01T16:00Z")
NEXT = "book:2027-03-29T15:00:00Z"
FILLED = {
    "attendance": "PRESENT",
    "form": "assessment",
    "level": 4,
    "unit": 2,
    "heard": "Four studies in three-four, no. 2\nPlacing drill",
    "band_tone": "3",
    "obstacle": "The fourth finger arrives late.",
    "next_steps": "Place the fourth finger first",
    "goal": "Ten placed chords at 72",
    "goal_on": "2027-03-29",
    "what_0": "Placing drill, hands apart",
    "minutes_0": "10",
    "follow_up_weeks": "4",
}


def just_over(school: School, hands: Hands) -> Booking:
    """Noor's consultation today, 16:00 to 16:25, over for five minutes."""
    hands.at = START + timedelta(minutes=30)
    return make_booking(make_meeting(school.consultation, school.ilse, START), school.noor)


def sent(page: str, **more: Any) -> dict[str, Any]:
    read = re.search(r'name="read" value="([^"]*)"', page)
    return {**FILLED, "read": read[1] if read else "", **more}


def where(lesson: Booking) -> str:
    return f"/wrap-up/{lesson.pk}/"
