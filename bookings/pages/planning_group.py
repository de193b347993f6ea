"""Asking when a group should meet: the members on one side, the meetings on the other."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from bookings.access import require_admin
from bookings.domain.vocabulary import PlanKind
from bookings.pages.asking_for_plans import ask_with
from bookings.pages.choosing_students import fill_as_typed, is_choosing, students_to_choose
from bookings.pages.forms.planning import GroupPlanForm
from bookings.pages.parameters import read_id
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of


@login_required
@require_http_methods(["GET", "POST"])
def plan_a_group(request: HttpRequest) -> HttpResponse:
    """GET shows the students to choose from, as two buttons of POST do; POST asks for the plan."""
    user, chooses = user_of(request), is_choosing(request)
    require_admin(user)
    form = GroupPlanForm(None if chooses else request.POST or None, time_zone=user.zone)
    if chooses:
        fill_as_typed(form, request)

    def wanted() -> dict[str, Any]:
        members = [read_id(pk) for pk in request.POST.getlist("student")]
        asked, answer_by = form.asked(members), form.answer_by()
        return {"kind": PlanKind.GROUP, "asked": asked, "answer_by": answer_by}

    made, refusal = ask_with(request, form, wanted)
    if made is not None:
        return redirect("plan", plan_id=made.pk)
    context = {"form": form, "refusal": refusal, **students_to_choose(request)}
    return show(request, "levare/plan_a_group.html", context)
