"""The wrap-up page of one lesson: its form, what stands beside it, and the dates to choose from."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from accounts.models import User
from bookings import clock
from bookings.access import access_wrap_up, may_assess_in, name_for
from bookings.domain.errors import Refused
from bookings.domain.notes import FOLLOW_UPS
from bookings.domain.vocabulary import Kind, NoteForm, NoteState, Standing
from bookings.domain.zones import zone
from bookings.door import write
from bookings.models import Assessment, Booking
from bookings.operations.reading_notes import read_before
from bookings.operations.wrap_up import NextDate
from bookings.pages.forms.wrap_up import WrapUpForm, next_date_value
from bookings.pages.notes import mentions_pain, shown_note
from bookings.pages.plan_rows import plan_told
from bookings.pages.signed_in import user_of
from bookings.queries.next_dates import next_dates
from bookings.queries.notes import notes_around
from bookings.queries.practice import practised
from bookings.queries.techniques import techniques_for
from bookings.reading import read_hurts

USUAL_WEEKS = 4
"""When a student of a consultation is seen again, unless something else is chosen."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """One booking that its instructor wraps up, with the note about it so far."""

    user: User
    booking: Booking
    note: Assessment | None
    before: list[Assessment]
    read: str
    """When the draft that the writer has read was written, as the form has it."""
    now: datetime

    @property
    def may_write(self) -> bool:
        """Whether a note can still be written, and has not been released yet."""
        is_open = self.note is None or self.note.state == NoteState.DRAFT
        return is_open and may_assess_in(self.user, self.booking, now=self.now)

    @property
    def drafted_at(self) -> datetime | None:
        """When the draft was written; None without one."""
        is_draft = self.note is not None and self.note.state == NoteState.DRAFT
        return self.note.written_at if self.note is not None and is_draft else None

    @property
    def called(self) -> str:
        """The student's name as their instructor reads it."""
        return name_for(self.user, self.booking.student, self.now)


def lesson_to_wrap_up(request: HttpRequest, booking_id: int) -> Lesson:
    """The lesson at an address. Refused: "not-found", "not-yet", "already-ended"."""
    user, now = user_of(request), clock.now()
    booking = access_wrap_up(user, booking_id, now=now)
    if booking.standing != Standing.HELD or booking.meeting.is_cancelled:
        raise Refused("already-ended", "This lesson did not take place: nothing to wrap up.")
    if booking.starts_at > now:
        raise Refused("not-yet", "Wrap up opens when the lesson begins.")
    note, before = notes_around(booking)
    read = request.POST.get("read", "") if request.method == "POST" else written(note)
    return Lesson(user, booking, note, before, read, now)


def written(note: Assessment | None) -> str:
    """When a note was written, as a hidden field has it; empty without a note."""
    return note.written_at.isoformat() if note is not None else ""


def form_for(lesson: Lesson, asked: dict[str, Any], data: Any = None) -> WrapUpForm:
    booking, note = lesson.booking, lesson.note
    student, meeting = booking.student, booking.meeting
    is_light = meeting.offering.kind != Kind.CONSULTATION
    mark = getattr(booking, "mark", None)
    initial: dict[str, Any] = {
        "attendance": mark.attendance if mark else "",
        "level": student.level,
        "unit": student.unit,
        "form": (NoteForm.LESSON_NOTE if is_light else NoteForm.ASSESSMENT).value,
        "follow_up_weeks": "" if is_light else USUAL_WEEKS,
    }
    known = techniques_for(meeting.instructor, meeting)
    if note is not None:
        names = set(WrapUpForm.base_fields) - {"attendance", "next_date"}
        initial |= {name: getattr(note, name) for name in (*names, "bands", "practice")}
        known = [*known, *(name for name in note.bands if name not in known)]
    return WrapUpForm(data, initial={**initial, **asked}, techniques=known)


def answer(
    request: HttpRequest,
    lesson: Lesson,
    form: WrapUpForm,
    *,
    refusal: Refused | None = None,
    status: int = 200,
) -> HttpResponse:
    """The whole page or, where the page saves itself, only what has changed on it."""
    if request.POST.get("then") != "auto":
        return page(request, lesson, form, refusal=refusal, status=status)
    context = {**_dates(lesson, form), "lesson": lesson, "form": form, "refusal": refusal}
    return render(request, "levare/_wrap_up_saved.html", context, status=status)


def page(
    request: HttpRequest,
    lesson: Lesson,
    form: WrapUpForm,
    *,
    refusal: Refused | None = None,
    status: int = 200,
) -> HttpResponse:
    booking, note = lesson.booking, lesson.note
    told = getattr(booking, "intake", None)
    before: list[Assessment] = []
    if lesson.before and may_assess_in(lesson.user, booking, now=lesson.now):
        before = write(
            lambda: read_before(
                reader=lesson.user, booking=booking, notes=lesson.before, now=lesson.now
            ),
            now=lesson.now,
        )
    context = {
        **_dates(lesson, form),
        "lesson": lesson,
        "booking": booking,
        "meeting": booking.meeting,
        "student": booking.student,
        "called": lesson.called,
        "form": form,
        "intake": told,
        "hurts": read_hurts(lesson.user, booking, now=lesson.now),
        "cautions": mentions_pain(None, told),
        "practised": practised(booking.student, now=lesson.now) if before else None,
        "before": [shown_note(one) for one in before],
        **plan_told(note, booking.student, lesson.now),
        "refusal": refusal,
    }
    return render(request, "levare/wrap_up.html", context, status=status)


def _dates(lesson: Lesson, form: WrapUpForm) -> dict[str, Any]:
    """Starts around the follow-up that the form asks for, and the lesson that is booked already."""
    booking = lesson.booking
    if not booking.meeting.offering.is_one_on_one:
        return {}
    weeks = str(form["follow_up_weeks"].value() or "")
    ahead = booking.next_at
    if not weeks.isdecimal() or int(weeks) not in FOLLOW_UPS:
        return {"ahead": ahead, "can_choose": True}
    on = _local_day(booking) + timedelta(weeks=int(weeks))
    found = next_dates(booking, on, now=lesson.now)
    starts = [slot.starts_at for slot in found.slots]
    return {
        "ahead": ahead,
        "can_choose": True,
        "student_zone": booking.student.zone,
        "dates": found,
        "proposing": next_date_value(NextDate(propose=starts)),
        "chosen": form["next_date"].value() or "",
    }


def _local_day(booking: Booking) -> date:
    """The date of the lesson on the student's clock."""
    return booking.starts_at.astimezone(zone(booking.student.zone)).date()
