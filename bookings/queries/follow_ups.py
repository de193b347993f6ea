"""What instructors have still to do after meetings: mark registers, release assessments."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from accounts.models import Instructor
from bookings.domain.policy import quiet_until
from bookings.domain.vocabulary import CAME, Kind, NoteState
from bookings.domain.zones import zone
from bookings.models import Assessment, Booking, Meeting, OutboxMessage
from bookings.notices.follow_ups import Unfinished, subject_of
from bookings.outbox import MessageKind

# So long ago that yesterday has begun in every zone, whatever its clocks do.
_A_DAY_BACK = timedelta(hours=50)


def instructors_to_ask(now: datetime) -> dict[Instructor, date]:
    """Instructors to ask about yesterday, each with that date.

    They taught yesterday on their own clock, it is day there now, and they have not been asked
    about it.
    """
    rows = Instructor.objects.teaching().filter(
        meetings__starts_at__gt=now - _A_DAY_BACK, meetings__ends_at__lte=now
    )
    found = {}
    for instructor in rows.select_related("user").distinct():
        local_now = now.astimezone(zone(instructor.user.zone))
        if quiet_until(now, instructor.user.zone) == now:
            found[instructor] = local_now.date() - timedelta(days=1)
    asked = OutboxMessage.objects.filter(
        kind=MessageKind.FOLLOW_UP, recipient__in=[one.user_id for one in found]
    )
    told = set(asked.values_list("recipient_id", "subject_key"))
    return {one: day for one, day in found.items() if (one.user_id, subject_of(day)) not in told}


def meetings_of_day(instructor: Instructor, day: date, now: datetime) -> list[Meeting]:
    """The meetings of that day on the instructor's clock that are over, by start."""
    taught = Meeting.objects.not_called_off().taught_by(instructor)
    rows = (
        taught.filter(starts_at__gt=now - _A_DAY_BACK, ends_at__lte=now)
        .select_related("offering", "instructor__user")
        .order_by("starts_at", "pk")
    )
    clock = zone(instructor.user.zone)
    return [meeting for meeting in rows if meeting.starts_at.astimezone(clock).date() == day]


def unfinished(meetings: Iterable[Meeting]) -> list[Unfinished]:
    """The meetings of one instructor that are not finished; two queries.

    A register needs a mark for every place. A consultation needs an assessment, released after its
    start, unless the student did not come.
    """
    meetings = list(meetings)
    held: dict[int, list[Booking]] = {meeting.pk: [] for meeting in meetings}
    rows = Booking.objects.in_meetings(meetings).held().select_related("student__user", "mark")
    for booking in rows.order_by("booked_at", "pk"):
        held[booking.meeting_id].append(booking)
    students = {booking.student_id for bookings in held.values() for booking in bookings}
    authors = {meeting.instructor_id for meeting in meetings}
    notes = list(
        Assessment.objects.filter(student__in=students, author__in=authors).only(
            "student", "state", "written_at", "released_at"
        )
    )
    found = []
    for meeting in meetings:
        unmarked = [booking for booking in held[meeting.pk] if not hasattr(booking, "mark")]
        came = [
            booking
            for booking in held[meeting.pk]
            if booking in unmarked or booking.mark.attendance in CAME
        ]
        due = came if meeting.offering.kind == Kind.CONSULTATION else []
        states = [(booking, _state(notes, booking)) for booking in due]
        unwritten = [(booking, state) for booking, state in states if state != NoteState.RELEASED]
        if unmarked or unwritten:
            found.append(Unfinished(meeting, unmarked, unwritten))
    return found


def _state(notes: Iterable[Assessment], booking: Booking) -> NoteState | None:
    of_student = [note for note in notes if note.student_id == booking.student_id]
    releases = [note.released_at for note in of_student if note.released_at is not None]
    if any(released_at >= booking.starts_at for released_at in releases):
        return NoteState.RELEASED
    if any(note.state == NoteState.DRAFT for note in of_student):
        return NoteState.DRAFT
    return None
