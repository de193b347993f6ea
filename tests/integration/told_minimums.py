"""The emails about a meeting with a minimum to run, and an admin's acts on a waiting list."""

from bookings import notices
from bookings.models import WaitingPlace
from tests.cast import NOW, at
from tests.integration.told_words import LATER, Told
from tests.school.golden import School


def uncertain(school: School) -> Told:
    """Joined while it is not certain, and decided."""
    noor, posy = school.in_group(school.noor, school.posy)
    meeting = noor.meeting
    meeting.minimum, meeting.status = 2, "TENTATIVE"
    meeting.decide_by = at("2027-03-11T18:00Z")
    meeting.save()
    yield "group_made_uncertain", notices.meeting_made(meeting, now=NOW)
    yield "booked_uncertain", notices.booking_made(noor, now=NOW)
    meeting.status, meeting.sequence = "CONFIRMED", 1
    yield "runs", notices.meeting_runs(meeting, [noor, posy], now=LATER)


def listed(school: School) -> Told:
    """Put on the waiting list and taken off it by the school."""
    meeting = school.group(places=1)
    for student, name in ((school.marlo, "marlo"), (school.posy, "posy")):
        row = WaitingPlace(pk=school.key(), meeting=meeting, student=student, joined_at=NOW)
        row.rank = 2
        yield f"waiting_added_{name}", notices.added_to_waiting_list(row, now=NOW)
        yield f"waiting_removed_{name}", notices.removed_from_waiting_list(row, now=LATER)
