"""Teaching hours as a calendar file: download them, preview a file, publish the preview."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST, require_safe

from accounts.models import Instructor
from bookings import clock
from bookings.calendars.availability import MOST_BYTES
from bookings.domain.errors import Refused
from bookings.domain.proposals import Proposal
from bookings.door import write
from bookings.operations.hours import adopt_hours
from bookings.pages.decorators import takes_file
from bookings.pages.downloads import as_file
from bookings.pages.forms.hours import HoursFileForm
from bookings.pages.hours import back, hours_page, whose
from bookings.pages.signed_in import user_of
from bookings.queries.availability import hours_file, proposal_from
from bookings.queries.teaching import week_of

_SALT = "hours from a file"
_GOOD_FOR = 3600
"""Seconds for which a proposal may be published as it was shown."""


@login_required
@require_safe
def download(request: HttpRequest) -> HttpResponse:
    """The published hours."""
    instructor = whose(request)
    content = hours_file(instructor, now=clock.now())
    return as_file("hours.ics", content, "text/calendar; charset=utf-8")


@takes_file(MOST_BYTES)
@login_required
@require_POST
def propose(request: HttpRequest) -> HttpResponse:
    """What the file would make of the hours; nothing is written."""
    instructor = whose(request)
    form = HoursFileForm(request.POST, request.FILES)
    if not form.is_valid():
        return hours_page(request, instructor, file_form=form)
    # One byte beyond the limit is enough for the calendar reader to refuse a file too large.
    text = form.cleaned_data["calendar"].read(MOST_BYTES + 1).decode(errors="replace")
    try:
        proposal = proposal_from(text, instructor, now=clock.now())
    except Refused as refusal:
        return hours_page(request, instructor, refusal=refusal)
    shown = {
        "instructor": instructor,
        "proposal": proposal,
        "sealed": _seal(proposal, instructor, week_of(instructor).version),
    }
    return render(request, "levare/hours_proposal.html", shown)


@login_required
@require_POST
def adopt(request: HttpRequest) -> HttpResponse:
    """Publishes the proposal exactly as it was shown, unless the hours have changed since."""
    instructor, now = whose(request), clock.now()
    try:
        proposal, version = _open(request.POST.get("proposal", ""), instructor)
        published = write(
            lambda: adopt_hours(
                actor=user_of(request),
                instructor=instructor,
                proposal=proposal,
                version=version,
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        return hours_page(request, instructor, refusal=refusal)
    messages.success(request, "Published. These are the hours offered from now on.")
    if published.left_outside:
        messages.warning(
            request,
            "Some lessons now lie outside these hours. They are still booked and are listed below.",
        )
    return back(instructor, request)


def _seal(proposal: Proposal, instructor: Instructor, version: int) -> str:
    said: dict[str, Any] = {
        "instructor": instructor.pk,
        "version": version,
        "time_zone": proposal.time_zone,
        "windows": proposal.windows,
        "extra": [(on.isoformat(), opens, closes) for on, opens, closes in proposal.extra],
        "away": [
            (first_on.isoformat(), last_on.isoformat()) for first_on, last_on in proposal.away
        ],
    }
    return signing.dumps(said, salt=_SALT, compress=True)


def _open(sealed: str, instructor: Instructor) -> tuple[Proposal, int]:
    """The proposal, and the version of the week when it was shown. Refused("stale") otherwise."""
    try:
        said = signing.loads(sealed, salt=_SALT, max_age=_GOOD_FOR)
    except signing.BadSignature:
        said = {}
    if said.get("instructor") != instructor.pk:
        raise Refused("stale", "This preview has expired: choose the file again.")
    proposal = Proposal(
        said["time_zone"],
        tuple((weekday, opens, closes) for weekday, opens, closes in said["windows"]),
        tuple((date.fromisoformat(on), opens, closes) for on, opens, closes in said["extra"]),
        tuple(
            (date.fromisoformat(first_on), date.fromisoformat(last_on))
            for first_on, last_on in said["away"]
        ),
        (),
    )
    return proposal, said["version"]
