"""An instructor looks for times with a student, and books one or proposes some."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from accounts.models import Instructor, Student, User
from bookings import clock
from bookings.access import access_move_request, access_taught_student, name_for
from bookings.domain.errors import Refused
from bookings.domain.instants import resolve_once
from bookings.door import write
from bookings.models import MoveRequest, Offering, ProposedTimes
from bookings.operations.proposed_times import propose_other_times, propose_times
from bookings.pages.forms.proposing import ProposingForm
from bookings.pages.instructor_week import instructor_week
from bookings.pages.parameters import read_id, read_instant
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.teaching import teacher, zone_of_hours
from bookings.queries.times import taught_to


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What is proposed, and the request to move that it answers; None where nobody asked."""

    student: Student
    instructor: Instructor
    offering: Offering
    offerings: Sequence[Offering]
    request: MoveRequest | None = None

    @property
    def book_at(self) -> str:
        """Where one start is booked at once or, for a lesson that is to move, moved to."""
        if self.request is not None:
            return reverse("move", args=[self.request.booking_id])
        return reverse("book")

    def propose(self, actor: User, starts: Sequence[datetime], now: datetime) -> ProposedTimes:
        if self.request is not None:
            return propose_other_times(actor=actor, request=self.request, starts=starts, now=now)
        return propose_times(
            actor=actor,
            student=self.student,
            offering=self.offering,
            instructor=self.instructor,
            starts=starts,
            now=now,
        )


@login_required
@require_http_methods(["GET", "POST"])
def propose(request: HttpRequest, student_id: int) -> HttpResponse:
    """GET shows the starts of a week, to tick or to book; POST proposes up to three."""
    user, now = user_of(request), clock.now()
    student, oneself = access_taught_student(user, student_id, now=now)
    # An admin names the instructor, or proposes for the regular one.
    named = request.GET.get("instructor") or str(student.regular_instructor_id or "")
    instructor = oneself or teacher(read_id(named))
    offerings = taught_to(student).by(instructor)
    chosen = request.GET.get("offering")
    wanted = read_id(chosen) if chosen else None
    offering = next((one for one in offerings if wanted in (None, one.pk)), None)
    if offering is None:
        raise Refused("not-found", f"{instructor} teaches nothing like that at this level.")
    return _page(request, _Wanted(student, instructor, offering, offerings), now)


@login_required
@require_http_methods(["GET", "POST"])
def propose_other(request: HttpRequest, request_id: int) -> HttpResponse:
    """The same for a lesson that a family asks to move."""
    now = clock.now()
    asked = access_move_request(user_of(request), request_id, to_answer=True, now=now)
    meeting, student = asked.booking.meeting, asked.booking.student
    return _page(request, _Wanted(student, meeting.instructor, meeting.offering, [], asked), now)


def _page(request: HttpRequest, wanted: _Wanted, now: datetime) -> HttpResponse:
    user = user_of(request)
    form = ProposingForm(request.POST if request.method == "POST" else None)
    refusal = None
    if form.is_bound and form.is_valid():
        try:
            starts = _starts(request, form, zone_of_hours(wanted.instructor))
            write(lambda: wanted.propose(user, starts, now), now=now)
        except Refused as refused:
            refusal = refused
        else:
            messages.success(request, "Proposed. The family gets an email with the times.")
            return redirect("proposed-times")
    context = {
        **instructor_week(
            request,
            student=wanted.student,
            offering=wanted.offering,
            instructor=wanted.instructor,
            book_at=wanted.book_at,
            moving=wanted.request.booking if wanted.request else None,
            now=now,
        ),
        "form": form,
        "wanted": wanted,
        "student": wanted.student,
        "name": name_for(user, wanted.student, now),
        "ticked": request.POST.getlist("start"),
        "refusal": refusal,
    }
    is_wrong = bool(context["shown_days"].errors)
    return show(request, "levare/propose.html", context, is_wrong=is_wrong)


def _starts(request: HttpRequest, form: ProposingForm, here: str) -> list[datetime]:
    """The ticked starts and the typed one, which is a time of the instructor's clock."""
    starts = [read_instant(text) for text in request.POST.getlist("start")]
    typed = form.wall()
    return [*starts, resolve_once(typed, here)] if typed is not None else starts
