"""Proposed times: the family answers, and the instructor sees theirs and takes them back."""

from collections.abc import Sequence

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from bookings import clock
from bookings.access import (
    access_proposal,
    access_proposal_to_answer,
    access_proposal_to_withdraw,
    acts_for,
    may_propose,
    name_for,
)
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Booking, OwedLesson, ProposedTimes
from bookings.operations.proposed_times import decline_times, withdraw_times
from bookings.operations.taking_times import take_time
from bookings.pages.confirmation import Question, confirmation_page
from bookings.pages.lists import taught_form
from bookings.pages.pagination import paginate
from bookings.pages.parameters import read_id, read_version
from bookings.pages.proposed_days import days_of
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.pages.templatetags.formatting import day_and_time, zone_place
from bookings.queries.owed import next_to_make_up
from bookings.queries.proposed_times import open_proposals_by, times_of
from bookings.queries.teaching import zone_of_hours

PAGE_OF = 20


@login_required
@require_http_methods(["GET", "POST"])
def answer(request: HttpRequest, proposal_id: int) -> HttpResponse:
    """GET shows the times; POST takes one of them, or says that none suits."""
    user, now = user_of(request), clock.now()
    if request.method == "GET":
        return _show(request, access_proposal(user, proposal_id, now=now))
    proposal = access_proposal_to_answer(user, proposal_id, now=now)
    chosen, version = request.POST.get("booking"), read_version(request)
    try:
        if chosen:
            write(
                lambda: take_time(
                    actor=user,
                    proposal=proposal,
                    booking_id=read_id(chosen),
                    version=version,
                    now=now,
                ),
                now=now,
            )
        else:
            write(
                lambda: decline_times(actor=user, proposal=proposal, version=version, now=now),
                now=now,
            )
    except Refused as refusal:
        return _show(request, access_proposal(user, proposal_id, now=now), refusal)
    said = "The time is yours." if chosen else "Thank you. The instructor is told that none suits."
    messages.success(request, said)
    return redirect("my-lessons")


@login_required
@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, proposal_id: int) -> HttpResponse:
    """GET asks once; POST takes the times back, and the family gets an email."""
    user, now = user_of(request), clock.now()
    proposal = access_proposal_to_withdraw(user, proposal_id, now=now)
    if request.method == "GET":
        return confirmation_page(request, _taking_back(request, proposal))
    version = read_version(request)
    try:
        write(
            lambda: withdraw_times(actor=user, proposal=proposal, version=version, now=now), now=now
        )
    except Refused as refusal:
        return _show(request, access_proposal(user, proposal_id, now=now), refusal)
    messages.success(request, "Taken back. The family gets an email.")
    return redirect("proposed-times")


@login_required
@require_GET
def proposed_times(request: HttpRequest) -> HttpResponse:
    """The open proposals: an instructor's own, everybody's for an admin."""
    user, now = user_of(request), clock.now()
    own, form = may_propose(user), taught_form(request)
    asked = form.narrows()
    found = open_proposals_by(user, own or asked["instructor"], words=asked["words"], now=now)
    shown = paginate(found, request.GET.get("page"), size=PAGE_OF)
    rows = [
        {"proposal": row, "name": name_for(user, row.student, now), "times": row.times.all()}
        for row in shown.rows
    ]
    context = {"rows": rows, "shown": shown, "form": form}
    return show(request, "levare/proposed_times.html", context)


def _taking_back(request: HttpRequest, proposal: ProposedTimes) -> Question:
    user = user_of(request)
    name = name_for(user, proposal.student, clock.now())
    times = [day_and_time(one.starts_at, user.zone) for one in times_of(proposal)]
    return Question(
        f"Take back the times proposed to {name}?",
        [
            f"{proposal.offering.name}: {'; '.join(times)} ({zone_place(user.zone)}).",
            "The family gets an email, and these times are free for everybody again.",
        ],
        "Take them back",
        reverse("proposed-times"),
        {"version": proposal.version},
    )


def _show(
    request: HttpRequest, proposal: ProposedTimes, refusal: Refused | None = None
) -> HttpResponse:
    user, now = user_of(request), clock.now()
    is_family = acts_for(user, proposal.student_id, now=now)
    here, there = proposal.student.zone, zone_of_hours(proposal.instructor)
    if not is_family:
        here, there = there, here
    times = times_of(proposal)
    context = {
        "proposal": proposal,
        "makes_up": _made_up_by(proposal, times) if is_family else None,
        "student": proposal.student,
        "name": name_for(user, proposal.student, now),
        "days": days_of(times, here, there),
        "is_open": proposal.ended_at is None and now < proposal.answer_by,
        "is_family": is_family,
        "here": here,
        "there": there,
        "refusal": refusal,
    }
    return show(request, "levare/proposal.html", context)


def _made_up_by(proposal: ProposedTimes, times: Sequence[Booking]) -> OwedLesson | None:
    """The owed lesson that the last of the times, and so each of them, would make up."""
    if proposal.move_request_id is not None or not times:
        return None
    return next_to_make_up(proposal.student, proposal.offering, times[-1].starts_at)
