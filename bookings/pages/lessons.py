"""My lessons: what is booked, offered and waited for; cancelling, and what to bring up."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from bookings import clock
from bookings.access import access_meeting, access_own_booking
from bookings.domain.errors import Refused
from bookings.domain.policy import cancel_by
from bookings.door import write
from bookings.models import Booking, Term
from bookings.notices import charged_if_late
from bookings.operations.booking import cancel_slot
from bookings.operations.offers import accept_offer, decline_offer
from bookings.operations.places import leave_place, move_place
from bookings.pages.durations import until
from bookings.pages.ended_bookings import ended_page
from bookings.pages.pagination import paginate
from bookings.pages.parameters import read_id, read_version
from bookings.pages.showing import show
from bookings.pages.signed_in import acting_student, family, hours_asked, user_of
from bookings.queries.lessons import Ahead, Lessons, ahead_of, lessons_of, other_meetings
from bookings.queries.notes import latest_released
from bookings.queries.owed import OwedTo, owed_to, said_of_cancelling, used_by_term
from bookings.queries.waiting import waiting_of

OTHERS = 20
"""So many other meetings are offered on a page."""
_SOON = timedelta(hours=12)
JOIN_BEFORE = timedelta(minutes=10)
"""How long before the start the link to join appears, where a script can wait for it."""


@login_required
@require_GET
def my_lessons(request: HttpRequest) -> HttpResponse:
    """What lies ahead and what has been, on the student's clock."""
    student, now = acting_student(request), clock.now()
    kin = family(user_of(request))
    kin = kin if student in kin else [student]
    found, owed = lessons_of(student, kin=kin, now=now), owed_to(student, now=now)
    ahead = ahead_of(kin, found.family, now=now)
    context = {
        "student": student,
        "ahead": ahead,
        "nearest": _nearest(ahead, now),
        "held": [
            {**as_lesson(booking, now), "made_up": said_of_cancelling(booking, owed.used)}
            for booking in found.held
        ],
        "offers": [as_lesson(booking, now) for booking in found.offers],
        "proposals": found.proposals,
        "asked": hours_asked(user_of(request)),
        "called_off": found.called_off,
        "places": found.places,
        "waiting": waiting_of([student], now=now),
        "past": found.past,
        "owed": owed.still_owed,
        "terms": _terms(found, owed),
        "note": latest_released(student),
    }
    return render(request, "levare/my_lessons.html", context)


def _terms(found: Lessons, owed: OwedTo) -> list[Term]:
    """The terms whose account the family may want to read, the latest first."""
    terms = {term.pk: term for term in (*found.terms, *owed.terms)}
    return sorted(terms.values(), key=lambda term: term.first_on, reverse=True)


def _nearest(ahead: Sequence[Ahead], now: datetime) -> dict[str, Any] | None:
    """The next lesson of the whole family, with when in words if that is within half a day."""
    held = [row.next for row in ahead if row.next is not None]
    if not held:
        return None
    booking = min(held, key=lambda row: row.starts_at)
    is_soon = booking.starts_at - now <= _SOON
    return {
        "booking": booking,
        "when": until(booking.starts_at, now) if is_soon else "",
        "join_from": booking.starts_at - JOIN_BEFORE,
    }


def as_lesson(booking: Booking, now: datetime) -> dict[str, Any]:
    """A booking with what the page says of it."""
    until = cancel_by(booking.policy.rules(), booking.starts_at)
    return {
        "booking": booking,
        "meeting": booking.meeting,
        "their_zone": booking.meeting.zone,
        "cancel_by": until,
        "in_time": now <= until,
        "may_decline": booking.decline_by is not None and now < booking.decline_by,
        "begun": booking.starts_at <= now,
        "intake": getattr(booking, "intake", None),
    }


def _refused(
    request: HttpRequest, template: str, context: dict[str, Any], refusal: Refused
) -> HttpResponse:
    """The form again with the refusal; words only, where the booking can no longer be acted on."""
    booking = context["booking"]
    booking.refresh_from_db()
    gone = ended_page(request, booking, clock.now(), refusal=refusal)
    return gone or show(request, template, {**context, "refusal": refusal})


@login_required
@require_http_methods(["GET", "POST"])
def cancel(request: HttpRequest, booking_id: int) -> HttpResponse:
    """GET says what cancelling means now; POST cancels."""
    now = clock.now()
    booking = access_own_booking(user_of(request), booking_id, now=now)
    made_up = said_of_cancelling(booking, used_by_term(booking.student))
    context = {**as_lesson(booking, now), "student": booking.student, "made_up": made_up}
    if request.method == "GET":
        return ended_page(request, booking, now) or render(request, "levare/cancel.html", context)
    act = cancel_slot if booking.meeting.offering.is_one_on_one else leave_place
    try:
        ended = write(lambda: act(actor=user_of(request), booking=booking, now=now), now=now)
    except Refused as refusal:
        return _refused(request, "levare/cancel.html", context, refusal)
    called = booking.meeting.title or booking.meeting.offering.name
    messages.success(request, f"Cancelled: {called}. {charged_if_late(ended)}".rstrip())
    return redirect("my-lessons")


@login_required
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, booking_id: int) -> HttpResponse:
    """A place in a group meeting for one in another meeting of the same offering, in one step."""
    now = clock.now()
    booking = access_own_booking(user_of(request), booking_id, now=now)
    if booking.meeting.offering.is_one_on_one:
        return redirect("move", booking_id=booking.pk)
    shown = paginate(other_meetings(booking, now=now), request.GET.get("page"), size=OTHERS)
    context = {
        **as_lesson(booking, now),
        "student": booking.student,
        "others": shown.rows,
        "shown": shown,
    }
    if request.method == "GET":
        return ended_page(request, booking, now) or render(request, "levare/change.html", context)
    wanted = access_meeting(user_of(request), read_id(request.POST.get("meeting")), now=now)
    version = read_version(request)
    try:
        write(
            lambda: move_place(
                actor=user_of(request), booking=booking, meeting=wanted, version=version, now=now
            ),
            now=now,
        )
    except Refused as refusal:
        return _refused(request, "levare/change.html", context, refusal)
    messages.success(request, f"Moved to {wanted.title or wanted.offering.name}.")
    return redirect("my-lessons")


@login_required
@require_http_methods(["GET", "POST"])
def answer(request: HttpRequest, booking_id: int) -> HttpResponse:
    """An offered place: GET says until when it is kept, POST says yes or no."""
    now = clock.now()
    booking = access_own_booking(user_of(request), booking_id, now=now)
    context = {**as_lesson(booking, now), "student": booking.student}
    if request.method == "GET":
        return ended_page(request, booking, now) or render(request, "levare/answer.html", context)
    says_yes = request.POST.get("say") == "yes"
    act = accept_offer if says_yes else decline_offer
    try:
        write(lambda: act(actor=user_of(request), booking=booking, now=now), now=now)
    except Refused as refusal:
        return _refused(request, "levare/answer.html", context, refusal)
    messages.success(
        request,
        "The place is yours." if says_yes else "Declined. The place goes to the next in line.",
    )
    return redirect("my-lessons")
