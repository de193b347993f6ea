"""Wrap up a group meeting on one page: the register, a note for all, a line for one."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from accounts.models import User
from bookings import clock
from bookings.access import NOTES_STAY, access_group_to_wrap_up, name_for
from bookings.domain.errors import Refused
from bookings.domain.news import counted
from bookings.door import write
from bookings.models import Booking, Meeting
from bookings.operations import wrap_up_group as operations
from bookings.operations.notes import missing_for_release
from bookings.pages.forms.wrap_up_group import GroupForm
from bookings.pages.parameters import read_id, read_written_at
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.pages.templatetags.formatting import local_date
from bookings.queries.group_notes import GroupNotes, group_notes_of, members_of
from bookings.queries.notes import latest_of

_MISSING = "Write what you worked on or a next step before the note is released."


@dataclass(frozen=True, slots=True)
class Group:
    """A group meeting that its instructor wraps up, with the notes about it so far."""

    user: User
    meeting: Meeting
    held: list[Booking]
    notes: GroupNotes
    read: str
    """When the latest note that the writer has read was written, as the form has it."""
    now: datetime

    @property
    def may_write(self) -> bool:
        """Whether a note can still be written."""
        return self.meeting.ends_at > self.now - NOTES_STAY

    @property
    def drafted_at(self) -> datetime | None:
        """When the drafts with the common text were last written; None without any."""
        drafts = [self.notes.draft_of(booking) for booking in self.held]
        return max((note.written_at for note in drafts if note is not None), default=None)

    @property
    def only_draft(self) -> str:
        """Whose draft alone has the common text so far, in a meeting of several; else empty."""
        drafted = [booking for booking in self.held if self.notes.draft_of(booking) is not None]
        if len(drafted) != 1 or len(self.held) == 1:
            return ""
        return self.called(drafted[0])

    def called(self, booking: Booking) -> str:
        """The student's name as their instructor reads it."""
        return name_for(self.user, booking.student, self.now)


@login_required
@require_http_methods(["GET", "POST"])
def wrap_up_group(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET shows the drafts; POST keeps them, and leads to releasing where that is asked for."""
    group = _group(request, meeting_id)
    form = GroupForm(request.POST or None, held=group.held, notes=group.notes)
    if request.method == "GET":
        return _page(request, group, form)
    then = request.POST.get("then", "keep")
    if not form.is_valid():
        return _page(request, group, form)
    try:
        notes = write(lambda: _keep(request, group, form), now=group.now)
    except Refused as refusal:
        if then != "auto":  # a second press replaces what was shown
            group = replace(group, read=_written(group.notes))
        return _page(request, group, form, refusal)
    group = replace(group, notes=notes, read=_written(notes))
    if then == "auto":
        return _page(request, group, form)
    if then == "release":
        return redirect("release-group", meeting_id=meeting_id)
    messages.success(request, "Saved. Only you see the drafts.")
    return redirect("wrap-up-group", meeting_id=meeting_id)


@login_required
@require_http_methods(["GET", "POST"])
def release_group(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET asks once more; POST releases to each who came the text that was shown, or to nobody."""
    group = _group(request, meeting_id)
    if request.method == "GET":
        return _release_page(request, group)
    over = {
        read_id(name.removeprefix("over-")): read_id(str(value))
        for name, value in request.POST.items()
        if name.startswith("over-")
    }
    try:
        released = write(
            lambda: operations.release_group(
                actor=group.user,
                meeting=group.meeting,
                shown=[read_id(pk) for pk in request.POST.getlist("shown")],
                over=over,
                read_at=read_written_at(request),
                now=group.now,
            ),
            now=group.now,
        )
    except Refused as refusal:
        return _release_page(request, group, refusal)
    many = counted(len(released), "note")
    messages.success(request, f"Wrapped up: {many} released, and each family gets an email.")
    on = local_date(group.meeting.starts_at, group.user.zone)
    return redirect(f"{reverse('today')}?on={on}")


def _group(request: HttpRequest, meeting_id: int) -> Group:
    """The meeting at an address. Refused: "not-found", "not-yet", "already-ended"."""
    user, now = user_of(request), clock.now()
    meeting = access_group_to_wrap_up(user, meeting_id)
    if meeting.is_cancelled:
        raise Refused("already-ended", "This meeting did not take place: nothing to wrap up.")
    if meeting.starts_at > now:
        raise Refused("not-yet", "Wrap up opens when the meeting begins.")
    notes = group_notes_of(meeting)
    read = request.POST.get("read", "") if request.method == "POST" else _written(notes)
    return Group(user, meeting, members_of(meeting), notes, read, now)


def _written(notes: GroupNotes) -> str:
    return notes.written_at.isoformat() if notes.written_at is not None else ""


def _keep(request: HttpRequest, group: Group, form: GroupForm) -> GroupNotes:
    """Keeps the drafts; the register only when a button is pressed, as all are present at first."""
    return operations.wrap_up_group(
        actor=group.user,
        meeting=group.meeting,
        came=form.came(),
        text=form.text() if group.may_write else None,
        read_at=read_written_at(request),
        marks=request.POST.get("then") != "auto",
        now=group.now,
    )


def _page(
    request: HttpRequest,
    group: Group,
    form: GroupForm,
    refusal: Refused | None = None,
) -> HttpResponse:
    """The whole page or, where the page saves itself, only what has changed on it."""
    context: dict[str, Any] = {"lesson": group, "form": form, "refusal": refusal}
    if request.POST.get("then") == "auto":
        return show(request, "levare/_wrap_up_saved.html", context)
    context |= {
        "meeting": group.meeting,
        "rows": [
            {
                "booking": booking,
                "name": group.called(booking),
                "mark": form.mark_of(booking),
                "goal": form.goal_of(booking) if group.may_write else None,
                "own": group.notes.own_note_of(booking),
            }
            for booking in group.held
        ],
    }
    return show(request, "levare/wrap_up_group.html", context)


def _release_page(
    request: HttpRequest, group: Group, refusal: Refused | None = None
) -> HttpResponse:
    drafts = group.notes.to_release(group.held)
    latest = latest_of([note.student for note in drafts.values()])
    author = group.meeting.instructor_id
    others = {pk: note for pk, note in latest.items() if note.author_id != author}
    missing = [note for note in drafts.values() if missing_for_release(note)]
    context = {
        "meeting": group.meeting,
        "notes": group.notes,
        "read": group.read if request.method == "GET" else _written(group.notes),
        "missing": _MISSING if missing else "",
        "rows": [
            {
                "booking": booking,
                "name": group.called(booking),
                "note": drafts[booking.pk],
                "over": others.get(booking.student_id),
            }
            for booking in group.held
            if booking.pk in drafts
        ],
        "without": [group.called(booking) for booking in group.held if booking.pk not in drafts],
        "refusal": refusal,
    }
    return show(request, "levare/release_group.html", context)
