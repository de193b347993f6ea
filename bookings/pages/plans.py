"""Plans of the solver: a list, one with its answer, and what is decided on it."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from bookings import clock
from bookings.access import access_plan, plans_of
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlanKind
from bookings.door import write
from bookings.models import Plan
from bookings.operations.plans import adopt_plan, discard_plan, stop_plan
from bookings.pages.confirmation import Question, confirmation_page
from bookings.pages.forms.lists import PlansForm
from bookings.pages.pagination import paginate
from bookings.pages.parameters import read_version
from bookings.pages.plan_ribbon import picture_of
from bookings.pages.plan_words import ADOPTED, ADOPTING, DISCARDING, heading
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.planning.asked_hours import answers_count
from bookings.queries.plans import answer_shown, changes_since, comparable, plans_listed

PAGE_OF = 20


@login_required
@require_GET
def plans(request: HttpRequest) -> HttpResponse:
    """The plans, the newest first."""
    form = PlansForm(request.GET)
    found = plans_listed(plans_of(user_of(request)), form.asked("kind"), form.asked("state"))
    shown = paginate(found, request.GET.get("page"), size=PAGE_OF)
    rows = [(plan, heading(plan)) for plan in shown.rows]
    context = {"shown": shown, "rows": rows, "form": form}
    return show(request, "levare/plans.html", context)


@login_required
@require_GET
def plan(request: HttpRequest, plan_id: int) -> HttpResponse:
    """One plan: the answer and its proof first, then the acts, the picture, the rows."""
    return plan_page(request, access_plan(user_of(request), plan_id))


def plan_page(request: HttpRequest, found: Plan, refusal: Refused | None = None) -> HttpResponse:
    """The plan, beside another of its kind where the address names one."""
    answer = answer_shown(found)
    context = {
        "plan": found,
        "heading": heading(found),
        "answer": answer,
        "picture": picture_of(answer),
        **_beside(request, found),
        "changes": changes_since(found),
        "answers": answers_count(found),
        "refusal": refusal,
        "rows_template": f"levare/_plan_{found.kind}.html",
    }
    return show(request, "levare/plan.html", context)


def _beside(request: HttpRequest, found: Plan) -> dict[str, Any]:
    """The other answered plans of this kind, and the one to compare with."""
    others = comparable(plans_of(user_of(request)), found)
    wanted = request.GET.get("beside", "")
    other = next((one for one in others if str(one.pk) == wanted), None)
    return {
        "others": others,
        "other": other,
        "other_answer": answer_shown(other) if other is not None else None,
    }


@login_required
@require_POST
def stop(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Stops the solver with the best answer so far."""
    return decide(request, plan_id, stop_plan, "The solver stops with the best answer so far.")


@login_required
@require_http_methods(["GET", "POST"])
def discard(request: HttpRequest, plan_id: int) -> HttpResponse:
    """GET asks once; POST puts the plan aside."""
    if request.method == "POST":
        return decide(request, plan_id, discard_plan, "Discarded. Nothing was changed.")
    found = access_plan(user_of(request), plan_id)
    follows = DISCARDING.get(PlanKind(found.kind), ["Nothing is changed by it."])
    return _ask(request, found, "Discard this plan?", follows, "Discard it")


@login_required
@require_http_methods(["GET", "POST"])
def adopt(request: HttpRequest, plan_id: int) -> HttpResponse:
    """GET says what follows; POST does all that the plan says, or nothing."""
    user = user_of(request)
    found = access_plan(user, plan_id)
    kind = PlanKind(found.kind)
    if request.method == "POST":
        return decide(request, plan_id, adopt_plan, ADOPTED[kind])
    return _ask(request, found, "Adopt this plan?", ADOPTING[kind], "Adopt it")


def _ask(
    request: HttpRequest, found: Plan, title: str, follows: list[str], button: str
) -> HttpResponse:
    hidden: dict[str, object] = {"version": found.version}
    return confirmation_page(
        request, Question(title, follows, button, f"/plans/{found.pk}/", hidden)
    )


def decide(request: HttpRequest, plan_id: int, act: Callable[..., Plan], said: str) -> HttpResponse:
    user, now = user_of(request), clock.now()
    found = access_plan(user, plan_id)
    version = read_version(request)
    try:
        write(lambda: act(actor=user, plan=found, version=version, now=now), now=now)
    except Refused as refusal:
        return plan_page(request, access_plan(user, plan_id), refusal)
    messages.success(request, said)
    return redirect("plan", plan_id=plan_id)
