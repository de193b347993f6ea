"""Asking which weekly places of a term could change hands."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlanKind
from bookings.operations.plans import ask_for_plan
from bookings.pages.forms.fields import is_said_at_field
from bookings.pages.forms.planning import ExchangePlanForm
from bookings.pages.sent_once import write_once
from bookings.pages.signed_in import user_of
from bookings.queries.weekly_places import terms_ahead


@login_required
@require_http_methods(["GET", "POST"])
def plan_exchanges(request: HttpRequest) -> HttpResponse:
    """GET asks for the term; POST asks for the plan."""
    user, now = user_of(request), clock.now()
    require_admin(user)
    terms = [ahead.term for ahead in terms_ahead(now.date()).values()]
    form = ExchangePlanForm(request.POST or None, terms=terms)
    refusal = None
    if request.method == "POST" and form.is_valid():
        asked = form.cleaned_data
        try:
            made = write_once(
                request,
                lambda: ask_for_plan(actor=user, kind=PlanKind.EXCHANGE, asked=asked, now=now),
                now=now,
            )
        except Refused as error:
            refusal = None if is_said_at_field(form, error) else error
        else:
            return redirect("plan", plan_id=made.pk)
    status = refusal.status if refusal else 422 if form.errors else 200
    context = {"form": form, "terms": terms, "refusal": refusal}
    return render(request, "levare/plan_exchanges.html", context, status=status)
