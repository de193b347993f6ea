"""Asking for the timetable of a term, and solving it again around places that are fixed."""

from collections.abc import Sequence
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST

from bookings import clock
from bookings.access import access_plan, not_there, require_admin
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlanKind
from bookings.operations.plans import ask_for_plan
from bookings.pages.asking_for_plans import ask_with
from bookings.pages.choosing_students import fill_as_typed, is_choosing, students_to_choose
from bookings.pages.forms.planning import TimetableForm
from bookings.pages.parameters import read_id
from bookings.pages.plans import plan_page
from bookings.pages.sent_once import write_once
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of


@login_required
@require_http_methods(["GET", "POST"])
def plan_a_term(request: HttpRequest) -> HttpResponse:
    """GET shows the students to choose from, as two buttons of POST do; POST asks for the plan."""
    require_admin(user_of(request))
    chooses = is_choosing(request)
    form = TimetableForm(None if chooses else request.POST or None, today=clock.now().date())
    if chooses:
        fill_as_typed(form, request)

    def wanted() -> dict[str, Any]:
        asked = form.asked(_ids(request, "student"), _ids(request, "consent"))
        return {"kind": PlanKind.TIMETABLE, "asked": asked}

    made, refusal = ask_with(request, form, wanted)
    if made is not None:
        return redirect("plan", plan_id=made.pk)
    context = {"form": form, "refusal": refusal, **students_to_choose(request)}
    return show(request, "levare/plan_a_term.html", context)


@login_required
@require_POST
def solve_again(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Asks once more for what a timetable was asked, with the ticked places fixed."""
    user, now = user_of(request), clock.now()
    found = access_plan(user, plan_id)
    if found.kind != PlanKind.TIMETABLE:
        raise not_there()
    try:
        fixed = [_fixed(text) for text in request.POST.getlist("fixed")]
        asked = {**found.asked, "fixed": fixed}
        made = write_once(
            request,
            lambda: ask_for_plan(actor=user, kind=PlanKind.TIMETABLE, asked=asked, now=now),
            now=now,
        )
    except Refused as refusal:
        return plan_page(request, found, refusal)
    return redirect("plan", plan_id=made.pk)


def _ids(request: HttpRequest, name: str) -> list[int]:
    return [read_id(pk) for pk in request.POST.getlist(name)]


def _fixed(text: str) -> dict[str, int]:
    """A place as `timetable_shown.Row.fixing` writes it. Refused("not-found") for anything else."""
    parts: Sequence[str] = text.split("@")
    names = ("student", "instructor", "weekday", "wall_at")
    if len(parts) != len(names):
        raise Refused("not-found", "That place is not one of this plan.")
    return {name: read_id(part) for name, part in zip(names, parts, strict=True)}
