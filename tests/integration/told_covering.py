"""Emails about lessons that substitutes take, and the question to a substitute."""

from bookings import notices
from bookings.models import CoverQuestion, Plan
from tests.cast import NOW
from tests.integration.told_words import LATER, Told
from tests.letters import keep
from tests.school.golden import School


def covering(school: School) -> Told:
    """One lesson; two of a family; and what Wren is asked."""
    one = school.booked()
    yield "covered", notices.lessons_covered([_handed(school, one)], now=LATER)
    pair = [
        school.booking(school.meeting(starts_at=start), child)
        for start, child in (("2027-03-17T20:00Z", school.posy), ("2027-03-17T20:30Z", school.kit))
    ]
    for booking in pair:
        keep(notices.booking_made(booking, now=NOW), NOW)
    handed = [_handed(school, booking) for booking in pair]
    yield "covered_together", notices.lessons_covered(handed, now=LATER)
    plan = Plan.objects.create(pk=school.key(), kind="cover", asked={}, made_at=NOW)
    asked = [
        CoverQuestion(plan=plan, meeting=booking.meeting, instructor=school.wren, asked_at=NOW)
        for booking in pair
    ]
    for question in asked:
        question.starts_at = question.meeting.starts_at
    students = [booking.student for booking in pair]
    questions = list(zip(asked, students, strict=True))
    yield "cover_asked", notices.cover_asked(plan, questions, now=LATER)
    yield "cover_not_needed", notices.cover_not_needed(plan, questions, now=LATER)


def _handed(school: School, booking):
    """The lesson as it is once Wren teaches it."""
    before, meeting = booking.meeting.instructor, booking.meeting
    meeting.instructor, meeting.sequence = school.wren, meeting.sequence + 1
    meeting.join_address = "https://rooms.rowanmere.example/wren"
    booking.decline_by = booking.starts_at
    return notices.Covered(booking, before)
