"""Emails about hours that an instructor cannot teach."""

from datetime import date, timedelta

from bookings import notices
from bookings.domain.vocabulary import Ended
from bookings.models import OwedLesson
from tests.cast import NOW
from tests.integration.told_words import LATER, Told, end
from tests.letters import keep
from tests.school.golden import School


def cleared(school: School) -> Told:
    """Four lessons: Posy’s is called off and Kit’s has a substitute; two others are moved or left
    to be proposed.
    """
    lessons = [
        school.booking(school.meeting(starts_at=start), student)
        for start, student in (
            ("2027-03-17T20:00Z", school.posy),
            ("2027-03-17T20:30Z", school.kit),
            ("2027-03-17T21:00Z", school.noor),
            ("2027-03-17T21:30Z", school.marlo),
        )
    ]
    for lesson in lessons:
        keep(notices.booking_made(lesson, now=NOW), NOW)
    off, covered, moved, proposed = lessons
    for lesson in (off, proposed):
        end(lesson, Ended.CALLED_OFF, whole=True)
        lesson.meeting.called_off_why = "Ilse cannot teach on this day."
    for lesson in (covered, moved):
        lesson.meeting.sequence += 1
    covered.meeting.instructor, covered.decline_by = school.wren, covered.starts_at
    covered.meeting.join_address = "https://rooms.rowanmere.example/wren"
    was, moved.decline_by = moved.starts_at, LATER + timedelta(days=1)
    for field in ("starts_at", "ends_at"):
        setattr(moved.meeting, field, getattr(moved.meeting, field) + timedelta(hours=20))
        setattr(moved, field, getattr(moved.meeting, field))
    what = notices.Cleared(
        school.ilse,
        called_off=[
            notices.CalledOff(off.meeting, [off], owed=[OwedLesson(use_by=date(2027, 6, 16))]),
            notices.CalledOff(proposed.meeting, [proposed], will_propose=True),
        ],
        covered=[notices.Covered(covered, school.ilse)],
        moved=[notices.MovedLesson(moved, was)],
    )
    yield "cleared", notices.hours_cleared(what, now=LATER)
