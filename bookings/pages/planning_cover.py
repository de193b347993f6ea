"""Asking who covers an instructor's lessons, and asking the substitutes whose yes is needed."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from bookings import clock
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlanKind
from bookings.operations.cover_questions import ask_substitutes
from bookings.operations.plans import ask_for_plan
from bookings.pages.forms.covering import CoverForm
from bookings.pages.forms.fields import is_said_at_field
from bookings.pages.plans import decide
from bookings.pages.sent_once import write_once
from bookings.pages.signed_in import user_of


@login_required
@require_http_methods(["GET", "POST"])
def cover_a_day(request: HttpRequest) -> HttpResponse:
    """GET asks for the instructor and the hours; POST asks for the plan."""
    user, now = user_of(request), clock.now()
    require_admin(user)
    chosen = {"instructor": request.GET.get("instructor"), "first_on": request.GET.get("on")}
    form = CoverForm(request.POST or None, initial=chosen)
    refusal = None
    if request.method == "POST" and form.is_valid():
        try:
            asked = form.asked()
            made = write_once(
                request,
                lambda: ask_for_plan(actor=user, kind=PlanKind.COVER, asked=asked, now=now),
                now=now,
            )
        except Refused as error:
            refusal = (
                None if is_said_at_field(form, error, {"ends_at": form.last_field()}) else error
            )
        else:
            return redirect("plan", plan_id=made.pk)
    status = refusal.status if refusal else 422 if form.errors else 200
    context = {"form": form, "refusal": refusal}
    return render(request, "levare/cover_a_day.html", context, status=status)


@login_required
@require_POST
def ask(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Asks every substitute whose own yes the plan needs."""
    said = "Each substitute gets one email. The plan is solved again with every answer."
    return decide(request, plan_id, ask_substitutes, said)
