"""What stands in the way of a meeting that would end later."""

from collections.abc import Sequence
from datetime import datetime

from django.db.models import Q

from accounts.models import Student
from bookings.models import Booking, Meeting
from bookings.queries.held_time import REACH, held_bookings, live_meetings


def next_taught(meeting: Meeting, held_until: datetime) -> Meeting | None:
    """The first other meeting of the instructor that would begin before `held_until`."""
    rows = live_meetings(meeting.starts_at - REACH, meeting.starts_at, held_until)
    others = rows.filter(instructor=meeting.instructor_id).exclude(pk=meeting.pk)
    return others.select_related("offering").order_by("starts_at").first()


def next_learnt(meeting: Meeting, held_until: datetime) -> Booking | None:
    """The first lesson that the instructor takes here as a student before `held_until`."""
    rows = held_bookings(meeting.starts_at - REACH, meeting.starts_at, held_until, (meeting.pk,))
    own = rows.filter(student__user=meeting.instructor.user_id)
    return own.select_related("meeting__offering").order_by("starts_at").first()


def held_elsewhere(
    meeting: Meeting, students: Sequence[Student], ends_at: datetime
) -> list[Student]:
    """Those of these students who are in another meeting, or teach one, before `ends_at`."""
    held = held_bookings(meeting.starts_at - REACH, meeting.ends_at, ends_at, (meeting.pk,))
    taught = live_meetings(meeting.starts_at - REACH, meeting.ends_at, ends_at)
    busy = Student.objects.filter(pk__in=[student.pk for student in students]).filter(
        Q(pk__in=held.order_by().values("student"))
        | Q(user__instructor__in=taught.order_by().values("instructor"))
    )
    found = set(busy.values_list("pk", flat=True))
    return [student for student in students if student.pk in found]
