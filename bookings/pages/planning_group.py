"""Asking when a group should meet: the members on one side, the meetings on the other."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlanKind
from bookings.operations.plans import ask_for_plan
from bookings.pages.choosing_students import is_choosing, students_to_choose, unjudged
from bookings.pages.forms.fields import is_said_at_field
from bookings.pages.forms.planning import GroupPlanForm
from bookings.pages.parameters import read_id
from bookings.pages.sent_once import write_once
from bookings.pages.signed_in import user_of


@login_required
@require_http_methods(["GET", "POST"])
def plan_a_group(request: HttpRequest) -> HttpResponse:
    """GET shows the students to choose from, as two buttons of POST do; POST asks for the plan."""
    user, now = user_of(request), clock.now()
    require_admin(user)
    chooses = is_choosing(request)
    form = GroupPlanForm(None if chooses else request.POST or None, time_zone=user.zone)
    refusal = None
    if chooses:
        unjudged(form, request)
    elif request.method == "POST" and form.is_valid():
        try:
            asked = form.asked([read_id(pk) for pk in request.POST.getlist("student")])
            answer_by = form.answer_by()
            made = write_once(
                request,
                lambda: ask_for_plan(
                    actor=user, kind=PlanKind.GROUP, asked=asked, answer_by=answer_by, now=now
                ),
                now=now,
            )
        except Refused as error:
            refusal = None if is_said_at_field(form, error) else error
        else:
            return redirect("plan", plan_id=made.pk)
    return _page(request, form, refusal)


def _page(request: HttpRequest, form: GroupPlanForm, refusal: Refused | None) -> HttpResponse:
    """The form, with the students that the search above it finds."""
    context = {"form": form, "refusal": refusal, **students_to_choose(request)}
    status = refusal.status if refusal else 422 if form.errors else 200
    return render(request, "levare/plan_a_group.html", context, status=status)
