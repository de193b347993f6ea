"""Days away of an instructor: adding and removing them, and what is called off for them."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from bookings import clock
from bookings.access import access_days_away
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import DaysAway
from bookings.operations.days_away import come_back, go_away
from bookings.pages.clearing import address_naming, called_off_named, preview
from bookings.pages.confirmation import Question, confirmation_page
from bookings.pages.forms.clearing import ClearForm
from bookings.pages.forms.hours import AwayForm
from bookings.pages.hours import address_of, back, hours_page, whose
from bookings.pages.signed_in import user_of
from bookings.pages.templatetags.formatting import away_in_words
from bookings.queries.days_away import called_off_for
from bookings.queries.teaching import zone_of_hours


@login_required
@require_POST
def add_away(request: HttpRequest) -> HttpResponse:
    """Adds days on which nothing is offered. If meetings are on them, the next page lists them."""
    instructor, now = whose(request), clock.now()
    form, here = AwayForm(request.POST, prefix="away"), zone_of_hours(instructor)
    if not form.is_valid():
        return hours_page(request, instructor, away_form=form)
    try:
        write(
            lambda: go_away(
                actor=user_of(request),
                instructor=instructor,
                time_zone=here,
                now=now,
                **form.cleaned_data,
            ),
            now=now,
        )
    except Refused as refusal:
        if refusal.code != "has-bookings":
            return hours_page(request, instructor, away_form=form, refusal=refusal)
        days = ClearForm(form.cleaned_data, time_zone=here)
        if not days.is_valid():
            return hours_page(request, instructor, away_form=form, refusal=refusal)
        return preview(request, instructor, days)
    messages.success(request, "Days away saved. Nothing is offered on them.")
    return back(instructor, request)


@login_required
@require_http_methods(["GET", "POST"])
def remove_away(request: HttpRequest, away_id: int) -> HttpResponse:
    """GET asks for confirmation; POST removes the days away and lists what was called off."""
    away, now = access_days_away(user_of(request), away_id), clock.now()
    if request.method == "GET":
        return confirmation_page(
            request, _question(request, away, len(called_off_for(away, now=now)))
        )
    came = write(lambda: come_back(actor=user_of(request), away=away, now=now), now=now)
    if away.is_whole_days:
        said = "Days away removed. Your weekly hours are offered again on those days."
    else:
        said = "Opened again. Your weekly hours are offered again at that time."
    messages.success(request, said)
    if not came.called_off:
        return back(away.instructor, request)
    ids = [meeting.pk for meeting in came.called_off]
    return redirect(address_naming("reinstate-days", away.instructor_id, ids))


@login_required
@require_safe
def reinstate_days(request: HttpRequest) -> HttpResponse:
    """The meetings that were called off for days away, once these are removed, to be reinstated."""
    return render(request, "levare/reinstate_days.html", called_off_named(request))


def _question(request: HttpRequest, away: DaysAway, count: int) -> Question:
    named, back_to = away_in_words(away), address_of(away.instructor, request)
    if away.is_whole_days:
        title, button = f"Remove the days away of {named}?", "Remove the days away"
        follows, stays = ["The weekly hours are offered again on those days."], "for these days"
    else:
        title, button = f"Open the hours of {named} again?", "Open these hours again"
        follows, stays = ["The weekly hours are offered again at that time."], "for these hours"
    if count:
        lessons = "meeting was" if count == 1 else "meetings were"
        follows += [
            f"{count} {lessons} called off {stays} and stay called off.",
            "The next page lists what was called off, so that you can reinstate it.",
        ]
    return Question(title, follows, button, back_to)
