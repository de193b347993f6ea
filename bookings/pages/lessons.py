"""My lessons: what is booked, offered and waited for; moving, cancelling, and what to bring up."""

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from accounts.models import Student
from bookings import clock
from bookings.access import access_meeting, access_own_booking
from bookings.domain.errors import Refused
from bookings.domain.policy import cancel_by
from bookings.domain.vocabulary import MeetingStatus, Standing
from bookings.door import write
from bookings.models import LIVE, Booking, Intake, Meeting, MoveRequest
from bookings.operations.booking import cancel_slot, move_slot
from bookings.operations.intakes import write_intake
from bookings.operations.offers import accept_offer, decline_offer
from bookings.operations.places import leave_place, move_place
from bookings.pages.acting import acting_student, number, person
from bookings.pages.forms import IntakeForm
from bookings.pages.times import read_instant
from bookings.pages.week import week_of_times
from bookings.queries.notes import latest_released
from bookings.queries.teaching import instructors_for, zone_of_hours
from bookings.queries.waiting import waiting_of

PAST = 10


@login_required
@require_GET
def my_lessons(request: HttpRequest) -> HttpResponse:
    """What lies ahead and what has been, on the student's clock."""
    student, now = acting_student(request), clock.now()
    rows = Booking.objects.filter(student=student)
    rows = rows.select_related(
        "meeting__offering", "meeting__instructor__user", "policy", "intake", "mark"
    )
    ahead = rows.filter(ends_at__gt=now)
    note = latest_released(student)
    asked = {
        row.booking_id: row
        for row in MoveRequest.objects.filter(
            booking__student=student, state=MoveRequest.State.OPEN
        )
    }
    page = {
        "student": student,
        "held": [
            as_lesson(booking, now) | {"asked": asked.get(booking.pk)}
            for booking in ahead.filter(standing=Standing.HELD)
        ],
        "offers": [
            as_lesson(booking, now)
            for booking in ahead.filter(standing=Standing.OFFERED, answer_by__gt=now)
        ],
        "called_off": ahead.filter(ended_why="called-off", meeting__status="CANCELLED").order_by(
            "starts_at"
        ),
        "waiting": waiting_of(Student.objects.filter(pk=student.pk), now=now),
        "past": rows.filter(ends_at__lte=now, standing=Standing.HELD).order_by("-starts_at")[:PAST],
        "note": note,
    }
    return render(request, "my_lessons.html", page)


def as_lesson(booking: Booking, now: datetime) -> dict[str, Any]:
    """A booking with what the page says of it."""
    until = cancel_by(booking.policy.rules(), booking.starts_at)
    return {
        "booking": booking,
        "meeting": booking.meeting,
        "their_zone": booking.meeting.zone,
        "cancel_by": until,
        "in_time": now <= until,
        "begun": booking.starts_at <= now,
        "intake": getattr(booking, "intake", None),
    }


@login_required
@require_http_methods(["GET", "POST"])
def cancel(request: HttpRequest, booking_id: int) -> HttpResponse:
    """GET says what cancelling means now; POST cancels."""
    now = clock.now()
    booking = access_own_booking(person(request), booking_id, now=now)
    page = {**as_lesson(booking, now), "student": booking.student}
    if request.method == "GET":
        return render(request, "cancel.html", page)
    act = cancel_slot if booking.meeting.offering.is_one_on_one else leave_place
    try:
        write(lambda: act(actor=person(request), booking=booking, now=now), now=now)
    except Refused as refusal:
        return render(request, "cancel.html", {**page, "refusal": refusal}, status=refusal.status)
    messages.success(
        request, f"Cancelled: {booking.meeting.title or booking.meeting.offering.name}."
    )
    return redirect("my-lessons")


@login_required
@require_http_methods(["GET", "POST"])
def move(request: HttpRequest, booking_id: int) -> HttpResponse:
    """GET shows other times, or with a start in the address what the move would mean; POST moves."""
    now = clock.now()
    booking = access_own_booking(person(request), booking_id, now=now)
    if not booking.meeting.offering.is_one_on_one:
        return redirect("change-meeting", booking_id=booking.pk)
    page: dict[str, Any] = {**as_lesson(booking, now), "student": booking.student}
    asked = request.POST if request.method == "POST" else request.GET
    if not asked.get("starts_at"):
        since = request.GET.get("since", "")
        day = datetime.fromisoformat(since).date() if _is_day(since) else booking.starts_at.date()
        page["week"] = week_of_times(
            student=booking.student,
            offering=booking.meeting.offering,
            asked={"since": day},
            book_at=request.path,
            now=now,
            moving=booking.meeting,
        )
        return render(request, "move.html", page)
    people = instructors_for(
        booking.meeting.offering, booking.student.level, number(asked.get("instructor"))
    )
    if not people:
        raise Refused("not-found", "This time is not offered. Choose another.")
    starts_at, instructor = read_instant(asked["starts_at"]), people[0]
    page |= {
        "starts_at": starts_at,
        "instructor": instructor,
        "new_zone": zone_of_hours(instructor),
    }
    page["new_cancel_by"] = cancel_by(booking.policy.rules(), starts_at)
    if request.method == "GET":
        return render(request, "move.html", page)
    try:
        write(
            lambda: move_slot(
                actor=person(request),
                booking=booking,
                starts_at=starts_at,
                instructor=instructor,
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        return render(request, "move.html", {**page, "refusal": refusal}, status=refusal.status)
    messages.success(request, "Moved. Your calendar will show the new time.")
    return redirect("my-lessons")


def _is_day(text: str) -> bool:
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


@login_required
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, booking_id: int) -> HttpResponse:
    """A place in a group meeting for one in another meeting of the same offering, in one step."""
    now = clock.now()
    booking = access_own_booking(person(request), booking_id, now=now)
    others = Meeting.objects.filter(offering=booking.meeting.offering, starts_at__gt=now).exclude(
        pk=booking.meeting_id
    )
    page = {
        **as_lesson(booking, now),
        "student": booking.student,
        "others": others.exclude(status=MeetingStatus.CANCELLED),
    }
    if request.method == "GET":
        return render(request, "change.html", page)
    wanted = access_meeting(person(request), number(request.POST.get("meeting")), now=now)
    try:
        write(
            lambda: move_place(actor=person(request), booking=booking, meeting=wanted, now=now),
            now=now,
        )
    except Refused as refusal:
        return render(request, "change.html", {**page, "refusal": refusal}, status=refusal.status)
    messages.success(request, f"Moved to {wanted.title or wanted.offering.name}.")
    return redirect("my-lessons")


@login_required
@require_http_methods(["GET", "POST"])
def intake(request: HttpRequest, booking_id: int) -> HttpResponse:
    """What the instructor should know before."""
    now = clock.now()
    booking = access_own_booking(person(request), booking_id, now=now)
    form = IntakeForm(request.POST or None, initial=_written(booking))
    page = {**as_lesson(booking, now), "student": booking.student, "form": form}
    if request.method == "POST" and form.is_valid():
        try:
            write(
                lambda: write_intake(
                    actor=person(request), booking=booking, intake=form.text(), now=now
                ),
                now=now,
            )
        except Refused as refusal:
            return render(
                request, "intake.html", {**page, "refusal": refusal}, status=refusal.status
            )
        messages.success(request, "Saved. Your instructor reads it before the lesson.")
        return redirect("my-lessons")
    return render(request, "intake.html", page, status=422 if form.errors else 200)


def _written(booking: Booking) -> dict[str, Any]:
    found = Intake.objects.filter(booking=booking).first()
    if found is None:
        return {}
    questions = {f"question_{rank}": text for rank, text in enumerate(found.questions, start=1)}
    return {
        **questions,
        "pieces": found.pieces,
        "recordings": "\n".join(found.recordings),
        "obstacle": found.obstacle,
    }


@login_required
@require_http_methods(["GET", "POST"])
def answer(request: HttpRequest, booking_id: int) -> HttpResponse:
    """An offered place: GET says until when it is kept, POST says yes or no."""
    now = clock.now()
    booking = access_own_booking(person(request), booking_id, now=now)
    page = {**as_lesson(booking, now), "student": booking.student}
    if request.method == "GET":
        if booking.standing not in LIVE:
            raise Refused(
                "offer-ended",
                "This offer has been answered or has ended. Join the waiting list again if you still want a place.",
            )
        return render(request, "answer.html", page)
    says_yes = request.POST.get("say") == "yes"
    act = accept_offer if says_yes else decline_offer
    try:
        write(lambda: act(actor=person(request), booking=booking, now=now), now=now)
    except Refused as refusal:
        return render(request, "answer.html", {**page, "refusal": refusal}, status=refusal.status)
    messages.success(
        request,
        "The place is yours." if says_yes else "Declined. The place goes to the next in line.",
    )
    return redirect("my-lessons")
