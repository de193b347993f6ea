"""Proposed times: the family answers, and the instructor sees theirs and takes them back."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

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
from bookings.models import ProposedTimes
from bookings.operations.proposed_times import decline_times, withdraw_times
from bookings.operations.taking_times import take_time
from bookings.pages.parameters import read_id, read_version
from bookings.pages.signed_in import user_of
from bookings.queries.proposed_times import open_proposals_by, times_of


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
@require_POST
def withdraw(request: HttpRequest, proposal_id: int) -> HttpResponse:
    """Takes the times back; the family gets an email."""
    user, now = user_of(request), clock.now()
    proposal = access_proposal_to_withdraw(user, proposal_id, now=now)
    try:
        write(lambda: withdraw_times(actor=user, proposal=proposal, now=now), now=now)
    except Refused as refusal:
        return _show(request, access_proposal(user, proposal_id, now=now), refusal)
    messages.success(request, "Taken back. The family gets an email.")
    return redirect("proposed-times")


@login_required
@require_GET
def proposed_times(request: HttpRequest) -> HttpResponse:
    """The open proposals: an instructor's own, everybody's for an admin."""
    user, now = user_of(request), clock.now()
    rows = [
        {"proposal": row, "name": name_for(user, row.student, now), "times": row.times.all()}
        for row in open_proposals_by(may_propose(user))
    ]
    return render(request, "levare/proposed_times.html", {"rows": rows})


def _show(
    request: HttpRequest, proposal: ProposedTimes, refusal: Refused | None = None
) -> HttpResponse:
    user, now = user_of(request), clock.now()
    is_family = acts_for(user, proposal.student_id, now=now)
    context = {
        "proposal": proposal,
        "student": proposal.student,
        "name": name_for(user, proposal.student, now),
        "times": times_of(proposal),
        "is_open": proposal.ended_at is None and now < proposal.answer_by,
        "is_family": is_family,
        "here": proposal.student.zone if is_family else user.zone,
        "refusal": refusal,
    }
    status = refusal.status if refusal else 200
    return render(request, "levare/proposal.html", context, status=status)
