"""Asking who covers an instructor's lessons, and asking the substitutes whose yes is needed."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST

from bookings.access import require_admin
from bookings.domain.vocabulary import PlanKind
from bookings.operations.cover_questions import ask_substitutes
from bookings.pages.asking_for_plans import ask_with
from bookings.pages.forms.covering import CoverForm
from bookings.pages.plans import decide
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of


@login_required
@require_http_methods(["GET", "POST"])
def cover_a_day(request: HttpRequest) -> HttpResponse:
    """GET asks for the instructor and the hours; POST asks for the plan."""
    require_admin(user_of(request))
    chosen = {"instructor": request.GET.get("instructor"), "first_on": request.GET.get("on")}
    form = CoverForm(request.POST or None, initial=chosen)
    made, refusal = ask_with(
        request,
        form,
        lambda: {"kind": PlanKind.COVER, "asked": form.asked()},
        fields={"ends_at": form.last_field()},
    )
    if made is not None:
        return redirect("plan", plan_id=made.pk)
    return show(request, "levare/cover_a_day.html", {"form": form, "refusal": refusal})


@login_required
@require_POST
def ask(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Asks every substitute whose own yes the plan needs."""
    said = "Each substitute gets one email. The plan is solved again with every answer."
    return decide(request, plan_id, ask_substitutes, said)
