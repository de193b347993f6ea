"""The roster and the register of a meeting on paper and as a CSV file.

Both leave the screen, so both name everybody by first names where a minor is on the roster.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from accounts.models import User
from bookings import clock
from bookings.access import access_taught_meeting, names_in_a_room
from bookings.domain.vocabulary import Attendance, Standing
from bookings.models import Booking, Meeting, RegisterEntry
from bookings.pages.csv_files import csv_file
from bookings.pages.signed_in import user_of
from bookings.pages.templatetags.formatting import (
    attendance_in_words,
    clock_time,
    local_date,
)
from bookings.queries.rosters import roster_of

HEAD = (
    "Date",
    "Starts",
    "Time zone",
    "Meeting",
    "Student",
    "Level",
    "Unit",
    "Place",
    "Attendance",
    "Entered by",
    "Entered at",
    "First entry",
    "First entered by",
    "First entered at",
)


@login_required
@require_safe
def sheet(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """A plain sheet for the room: who is in, what the register says, and room to write by hand."""
    meeting, names = _asked(request, meeting_id)
    rows = [
        {
            "booking": booking,
            "name": names[booking.student_id],
            "mark": booking.mark.attendance if hasattr(booking, "mark") else "",
            "entries": list(booking.entries.all()),
        }
        for booking in _held(meeting)
    ]
    context = {"meeting": meeting, "rows": rows, "attendances": list(Attendance)}
    return render(request, "levare/roster_sheet.html", context)


@login_required
@require_safe
def download(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """The same as a CSV file, one line a student. Its name has the date and the meeting's id."""
    user = user_of(request)
    meeting, names = _asked(request, meeting_id)
    name = f"roster-{local_date(meeting.starts_at, user.zone)}-{meeting.pk}.csv"
    return csv_file(name, HEAD, _lines(meeting, names, user))


def _asked(request: HttpRequest, meeting_id: int) -> tuple[Meeting, Mapping[int, str]]:
    """The meeting with its people, and how they are named to each other."""
    user, now = user_of(request), clock.now()
    meeting = roster_of(access_taught_meeting(user, meeting_id, now=now))
    return meeting, names_in_a_room([booking.student for booking in _held(meeting)], now)


def _held(meeting: Meeting) -> list[Booking]:
    """The places that are a student's, offers left out, in order of booking."""
    people: list[Booking] = getattr(meeting, "live", [])
    return [booking for booking in people if booking.standing == Standing.HELD]


def _lines(meeting: Meeting, names: Mapping[int, str], user: User) -> Iterator[list[Any]]:
    zone, starts_at = user.zone, meeting.starts_at
    when = [local_date(starts_at, zone), clock_time(starts_at, zone), zone]
    for booking in _held(meeting):
        student, entries = booking.student, list(booking.entries.all())
        first, last = (entries[0], entries[-1]) if entries else (None, None)
        yield [
            *when,
            meeting.title or meeting.offering.name,
            names[booking.student_id],
            student.level,
            student.unit,
            booking.place_kind,
            *_entry(last, zone),
            *_entry(first, zone),
        ]


def _entry(entry: RegisterEntry | None, zone: str) -> list[str]:
    """What was entered, by whom and when on the reader's clock; three empty cells for none."""
    if entry is None:
        return ["", "", ""]
    who = entry.entered_by.name if entry.entered_by else ""
    at = f"{local_date(entry.entered_at, zone)} {clock_time(entry.entered_at, zone)}"
    return [attendance_in_words(entry.attendance), who, at]
