"""Asking who is next: an instructor for themselves, an admin for any instructor."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import whose_plan
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlanKind
from bookings.operations.plans import ask_for_plan
from bookings.pages.forms.fields import is_said_at_field
from bookings.pages.forms.planning_who_next import WhoNextForm
from bookings.pages.sent_once import write_once
from bookings.pages.signed_in import user_of
from bookings.queries.planning.who_next import offerings_to_propose


@login_required
@require_http_methods(["GET", "POST"])
def plan_who_next(request: HttpRequest) -> HttpResponse:
    """GET asks which lesson to propose, and an admin whose students; POST asks for the plan."""
    user, now = user_of(request), clock.now()
    whose = whose_plan(user, PlanKind.WHO_NEXT)
    form = WhoNextForm(
        request.POST or None,
        initial={"instructor": request.GET.get("instructor")},
        offerings=offerings_to_propose(whose),
        asks_whose=whose is None,
    )
    refusal = None
    if request.method == "POST" and form.is_valid():
        asked = form.asked(whose)
        try:
            made = write_once(
                request,
                lambda: ask_for_plan(
                    actor=user, kind=PlanKind.WHO_NEXT, asked=asked, instructor=whose, now=now
                ),
                now=now,
            )
        except Refused as error:
            refusal = None if is_said_at_field(form, error) else error
        else:
            return redirect("plan", plan_id=made.pk)
    status = refusal.status if refusal else 422 if form.errors else 200
    context = {"form": form, "whose": whose, "refusal": refusal}
    return render(request, "levare/plan_who_next.html", context, status=status)
