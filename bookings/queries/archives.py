"""An export as one archive: a ZIP with the data as JSON and the lessons as a calendar file."""

import io
import json
import zipfile
from dataclasses import replace
from datetime import UTC, datetime

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder

from accounts.models import Student
from bookings.calendars.events import CalendarEvent
from bookings.calendars.feeds import feed
from bookings.domain.vocabulary import MeetingStatus, Standing
from bookings.models import Booking
from bookings.notices.rows import event_of
from bookings.queries.exports import Scope, meaning_of_columns, stored_of

DATA, LESSONS = "data.json", "lessons.ics"


def archive_of(student: Student, scope: Scope, *, now: datetime) -> bytes:
    """Everything that is stored of this student, as far as `scope` goes."""
    told = {
        "school": settings.SCHOOL_NAME,
        "made_at": now,
        "scope": scope,
        "student": student.pk,
        "data": stored_of(student, scope),
        "meaning": meaning_of_columns(scope),
    }
    text = json.dumps(told, cls=DjangoJSONEncoder, ensure_ascii=False, indent=2)
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as archive:
        stamp = now.astimezone(UTC).timetuple()[:6]
        for name, content in ((DATA, text.encode()), (LESSONS, _calendar(student, now))):
            entry = zipfile.ZipInfo(name, stamp)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, content)
    return kept.getvalue()


def _calendar(student: Student, now: datetime) -> bytes:
    """Every meeting in which the student has or had a place, without its room."""
    rows = Booking.objects.filter(
        student=student, standing__in=[Standing.HELD, Standing.ENDED], answer_by__isnull=True
    )
    rows = rows.select_related("meeting__offering", "meeting__instructor__user").order_by("pk")
    # A later place in a meeting tells of it: an ended one before it is past.
    events = {booking.meeting_id: _event(booking) for booking in rows}
    return feed(settings.SCHOOL_NAME, student.zone, events.values(), now, now)


def _event(booking: Booking) -> CalendarEvent:
    meeting = booking.meeting
    is_held = booking.standing == Standing.HELD
    status = meeting.status if is_held else MeetingStatus.CANCELLED
    event = event_of(
        meeting, None, sequence=meeting.sequence, stamp=meeting.changed_at, status=status
    )
    return replace(event, join_address="")
