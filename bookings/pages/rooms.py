"""An instructor's room: one address for the meetings ahead."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.rooms import change_room
from bookings.pages.forms.rooms import RoomForm
from bookings.pages.hours import back, hours_page, whose
from bookings.pages.signed_in import user_of


@login_required
@require_POST
def change(request: HttpRequest) -> HttpResponse:
    """The new address goes to every lesson ahead, and each family is told once."""
    instructor, now = whose(request), clock.now()
    form = RoomForm(request.POST)
    if not form.is_valid():
        return hours_page(request, instructor, room_form=form)
    try:
        changed = write(
            lambda: change_room(
                actor=user_of(request), instructor=instructor, **form.cleaned_data, now=now
            ),
            now=now,
        )
    except Refused as refusal:
        return hours_page(request, instructor, room_form=form, refusal=refusal)
    messages.success(request, _said(len(changed.meetings)))
    return back(instructor, request)


def _said(count: int) -> str:
    if not count:
        return "Room saved. No upcoming meeting needed the new address."
    have = "upcoming meeting has" if count == 1 else "upcoming meetings have"
    return f"Room saved. {count} {have} the new address. Each family gets one email about it."
