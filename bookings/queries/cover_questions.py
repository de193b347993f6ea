"""Questions to substitutes with the lessons that they are about."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef

from bookings.models import Booking, CoverQuestion, CoverQuestionQuerySet, Plan


@dataclass(frozen=True, slots=True)
class AskedLesson:
    """A question and the student's place in the lesson."""

    question: CoverQuestion
    booking: Booking


def still_asked(plan: Plan, *, now: datetime) -> CoverQuestionQuerySet:
    """The questions of this plan about lessons ahead to which nobody has said no, by start."""
    rows = CoverQuestion.objects.filter(plan=plan, starts_at__gt=now).exclude(says_yes=False)
    joined = rows.select_related("instructor__user", "meeting__offering")
    return joined.order_by("starts_at", "pk")


def still_booked(questions: CoverQuestionQuerySet) -> CoverQuestionQuerySet:
    """Those of these questions whose lesson is still booked."""
    held = Booking.objects.held().filter(meeting=OuterRef("meeting"))
    return questions.filter(Exists(held))


def with_lessons(questions: Iterable[CoverQuestion]) -> list[AskedLesson]:
    """Each question whose lesson is still booked: one query."""
    found = list(questions)
    held = Booking.objects.held().in_meetings([one.meeting_id for one in found]).with_details()
    bookings = {booking.meeting_id: booking for booking in held}
    return [
        AskedLesson(one, bookings[one.meeting_id]) for one in found if one.meeting_id in bookings
    ]
