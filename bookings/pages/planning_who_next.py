"""Asking who is next: an instructor for themselves, an admin for any instructor."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from bookings.access import whose_plan
from bookings.domain.vocabulary import PlanKind
from bookings.pages.asking_for_plans import ask_with
from bookings.pages.forms.planning_who_next import WhoNextForm
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.planning.who_next import offerings_to_propose


@login_required
@require_http_methods(["GET", "POST"])
def plan_who_next(request: HttpRequest) -> HttpResponse:
    """GET asks which lesson to propose, and an admin whose students; POST asks for the plan."""
    whose = whose_plan(user_of(request), PlanKind.WHO_NEXT)
    form = WhoNextForm(
        request.POST or None,
        initial={"instructor": request.GET.get("instructor")},
        offerings=offerings_to_propose(whose),
        asks_whose=whose is None,
    )
    made, refusal = ask_with(
        request,
        form,
        lambda: {"kind": PlanKind.WHO_NEXT, "asked": form.asked(whose), "instructor": whose},
    )
    if made is not None:
        return redirect("plan", plan_id=made.pk)
    context = {"form": form, "whose": whose, "refusal": refusal}
    return show(request, "levare/plan_who_next.html", context)
