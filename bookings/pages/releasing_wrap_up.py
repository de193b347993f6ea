"""Releasing from the wrap-up page: what the student reads and what is booked, once more."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import CAME, NoteState
from bookings.door import write
from bookings.models import Assessment
from bookings.operations.wrap_up import NextDate, Release, WrappedUp, wrap_up
from bookings.pages.forms.wrap_up import next_date_value, read_next_date
from bookings.pages.notes import shown_note
from bookings.pages.parameters import read_id, read_written_at
from bookings.pages.showing import show
from bookings.pages.templatetags.formatting import day_and_time, local_date
from bookings.pages.wrap_up_page import Lesson, lesson_to_wrap_up
from bookings.queries.notes import latest_by_another, says_other_level


@login_required
@require_http_methods(["GET", "POST"])
def release_wrap_up(request: HttpRequest, booking_id: int) -> HttpResponse:
    """GET asks once more; POST releases the text that was shown and agrees the date, or neither."""
    lesson = lesson_to_wrap_up(request, booking_id)
    sent = request.POST or request.GET
    if request.method == "GET":
        return _page(request, lesson, read_next_date(sent.get("next", "")))
    next_date = read_next_date(sent.get("next", ""))
    try:
        done = write(lambda: _act(request, lesson, next_date), now=lesson.now)
    except Refused as refusal:
        return _page(request, lesson, next_date, refusal)
    messages.success(request, _said(lesson, done))
    on = local_date(lesson.booking.starts_at, lesson.user.zone)
    return redirect(f"{reverse('today')}?on={on}")


def _act(request: HttpRequest, lesson: Lesson, next_date: NextDate) -> WrappedUp:
    over, release = request.POST.get("over"), None
    if "read" in request.POST:
        release = Release(over=read_id(over) if over else None, adopt="adopt" in request.POST)
    return wrap_up(
        actor=lesson.user,
        booking=lesson.booking,
        read_at=read_written_at(request),
        release=release,
        next_date=next_date,
        now=lesson.now,
    )


def _said(lesson: Lesson, done: WrappedUp) -> str:
    """What has happened, in sentences."""
    said = [f"{lesson.called}: wrapped up."]
    if done.note is not None and done.note.state == NoteState.RELEASED:
        said += ["The note is released, and the family gets an email."]
    if done.booked is not None:
        said += [f"Booked: {day_and_time(done.booked.starts_at, lesson.user.zone)}."]
    if done.proposed is not None:
        until = day_and_time(done.proposed.answer_by, lesson.user.zone)
        said += [f"The times are proposed; the family chooses by {until}."]
    return " ".join(said)


def _page(
    request: HttpRequest, lesson: Lesson, next_date: NextDate, refusal: Refused | None = None
) -> HttpResponse:
    booking, note = lesson.booking, _to_release(lesson)
    chosen = next_date_value(next_date)
    weeks = (request.POST or request.GET).get("weeks", "")[:2]
    back = reverse("wrap-up", args=[booking.pk])
    mark = getattr(booking, "mark", None)
    context = {
        "booking": booking,
        "student": booking.student,
        "called": lesson.called,
        "attendance": mark.attendance if mark else "",
        "note": shown_note(note) if note else None,
        "record": booking.student if note and says_other_level(note) else None,
        "over": latest_by_another(note) if note else None,
        "next": next_date,
        "chosen": chosen,
        "weeks": weeks,
        "back": f"{back}?{urlencode({'weeks': weeks, 'next': chosen})}",
        "refusal": refusal,
    }
    return show(request, "levare/release_wrap_up.html", context)


def _to_release(lesson: Lesson) -> Assessment | None:
    """The draft, unless the student did not come."""
    note, mark = lesson.note, getattr(lesson.booking, "mark", None)
    is_draft = note is not None and note.state == NoteState.DRAFT
    return note if is_draft and (mark is None or mark.attendance in CAME) else None
