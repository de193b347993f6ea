"""Plans of the solver: asked for, read, stopped, adopted, discarded."""

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.named import whose_time
from bookings.api.operation import operation
from bookings.api.output import paged
from bookings.api.paging import page
from bookings.api.plan_serializers import PLAN_FORM, PlanOutput, PlansAsked, read_plan
from bookings.api.views import ApiView, asked, me
from bookings.domain.scopes import PEOPLE
from bookings.domain.vocabulary import PlanKind
from bookings.models import Plan
from bookings.operations.cover_questions import ask_substitutes
from bookings.operations.plans import adopt_plan, ask_for_plan, discard_plan, stop_plan


class Plans(ApiView):
    """The school's plans; to an instructor, their own."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "plans", scope=PEOPLE, refused=(403,), parameters=[PlansAsked], responses=paged(PlanOutput)
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, PlansAsked), me(request)
        rows = PlansAsked.narrowed(access.plans_of(user), wanted, user)
        return page(request, PlansAsked, rows, partial(PlanOutput.of_all, reader=user))

    @operation(
        "ask_for_plan",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 404, 409),
        request=PLAN_FORM,
        responses={201: PlanOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        """Asks for a plan. It is solved beside the requests: read it until it is no longer
        SOLVING.
        """
        user = me(request)
        kind, inputs = read_plan(request)
        whose, answer_by = access.whose_plan(user, kind), inputs.pop("answer_by", None)
        if kind == PlanKind.WHO_NEXT:
            inputs["instructor"] = whose_time(user, inputs).pk

        def act(now: datetime) -> Result:
            plan = ask_for_plan(
                actor=user,
                kind=kind,
                asked=inputs,
                instructor=whose,
                answer_by=answer_by,
                now=now,
            )
            return _result(plan, user, status=201)

        return answered(request, act)


class OnePlan(ApiView):
    """One plan."""

    @operation("plan", scope=PEOPLE, headers=("ETag",), refused=(403,), responses=PlanOutput)
    def get(self, request: Request, pk: int) -> Response:
        user = me(request)
        plan = access.access_plan(user, pk)
        return Response(PlanOutput.of(plan, reader=user), headers=_tag(plan))


_decision = partial(
    operation,
    scope=PEOPLE,
    headers=("ETag", "Location"),
    refused=(403, 409),
    request=None,
    responses=PlanOutput,
)


class _Deciding(ApiView):
    """An act on a plan that somebody has read."""

    if_match = {"POST": NEEDED}

    def decided(self, request: Request, pk: int, act: Callable[..., Plan]) -> HttpResponseBase:
        user = me(request)

        def done(now: datetime) -> Result:
            plan = access.access_plan(user, pk)
            version = version_asked(request, "plan", pk, plan.version)
            return _result(act(actor=user, plan=plan, version=version, now=now), user)

        return answered(request, done)


class StoppingPlan(_Deciding):
    """Stops the solver with the best answer so far."""

    @_decision("stop_plan")
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return self.decided(request, pk, stop_plan)


class AdoptingPlan(_Deciding):
    """Does all that the plan says, or nothing."""

    @_decision("adopt_plan")
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return self.decided(request, pk, adopt_plan)


class DiscardingPlan(_Deciding):
    """Puts the plan aside."""

    @_decision("discard_plan")
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return self.decided(request, pk, discard_plan)


class AskingSubstitutes(_Deciding):
    """Asks each substitute without whose own yes a lesson of the plan is not handed over."""

    @_decision("ask_substitutes")
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return self.decided(request, pk, ask_substitutes)


def _tag(plan: Plan) -> dict[str, str]:
    return {"ETag": etag("plan", plan.pk, plan.version)}


def _result(plan: Plan, user: User, *, status: int = 200) -> Result:
    headers: dict[str, Any] = {**location("plans", plan.pk), **_tag(plan)}
    return Result(status, PlanOutput.of(plan, reader=user), headers)
