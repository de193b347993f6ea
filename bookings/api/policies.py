"""The versions of the studio policy: admins read them and add one."""

from dataclasses import replace
from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import FiveMinutes, Strict, Whole
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, paged
from bookings.api.paging import PageAsked, page
from bookings.api.time_fields import Clock, Instant, WindowTime
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.policy import Policy
from bookings.domain.policy_rules import RULES, Rule, Unit
from bookings.domain.scopes import PEOPLE
from bookings.models import StudioPolicy
from bookings.operations.policies import new_policy
from bookings.queries.policies import newest_policy, policy_then, versions
from bookings.queries.policy_effects import effects_of


class PolicyForm(Strict):
    """The next version: minutes, days, counts, and times of day on a minor's clock.

    A rule that is not named stays as in the newest version, or is the usual one in the first.
    Without `in_force_at` it is in force at once.
    """

    in_force_at = Instant(required=False)

    def get_fields(self) -> dict[str, serializers.Field]:
        return {**super().get_fields(), **{rule.name: _asked(rule) for rule in RULES}}


class PolicyOutput(Output):
    """A version of the studio policy. A booking keeps the one it was made under."""

    version = serializers.IntegerField()
    in_force_at = Utc(source="in_force_from")

    def get_fields(self) -> dict[str, serializers.Field]:
        return {**super().get_fields(), **{rule.name: _answered(rule) for rule in RULES}}


class NewPolicyOutput(PolicyOutput):
    """A version just added. `not_allowed` says, in sentences, what is booked and would not be
    allowed under it; it stays booked.
    """

    not_allowed = serializers.ListField(child=serializers.CharField())

    def get_not_allowed(self, policy: StudioPolicy) -> list[str]:
        found: list[str] = self.context["effects"]
        return found


class PoliciesAsked(PageAsked):
    """All of them."""

    order = ("-version",)
    in_order = "The newest comes first."


class Policies(ApiView):
    """The studio policy in all its versions."""

    queries = {"GET"}
    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "policies",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(403,),
        parameters=[PoliciesAsked],
        responses=paged(PolicyOutput),
    )
    def get(self, request: Request) -> Response:
        asked(request, PoliciesAsked)
        access.require_admin(me(request))
        newest = newest_policy()
        answer = page(request, PoliciesAsked, versions(), PolicyOutput.of_all)
        answer.headers["ETag"] = _tag(newest.version if newest else 0)["ETag"]
        return answer

    @operation(
        "add_policy",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(409,),
        request=PolicyForm,
        responses={201: NewPolicyOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        """If-Match names the versions that were read, so that nobody's new one is passed over."""
        access.require_admin(me(request))
        sent: dict[str, Any] = body(request, PolicyForm)
        since = sent.pop("in_force_at", None)

        def act(now: datetime) -> Result:
            newest, before = newest_policy(), policy_then(since or now)
            number = newest.version if newest else 0
            made = new_policy(
                actor=me(request),
                rules=replace(newest.rules() if newest else Policy(), **sent),
                in_force_from=since,
                seen=version_asked(request, "policies", 0, number),
                now=now,
            )
            old = before.rules() if before else None
            effects = effects_of(old, made.rules(), since=made.in_force_from, now=now)
            shown = NewPolicyOutput.of(made, effects=effects.in_words)
            return Result(201, shown, _tag(made.version))

        return answered(request, act)


def _asked(rule: Rule) -> serializers.Field:
    if rule.unit is Unit.CLOCK:
        return WindowTime(required=False)
    if rule.step > 1:
        return FiveMinutes(rule.least, rule.most, required=False)
    return Whole(min_value=rule.least, max_value=rule.most, required=False)


def _answered(rule: Rule) -> serializers.Field:
    return Clock() if rule.unit is Unit.CLOCK else serializers.IntegerField()


def _tag(newest: int) -> dict[str, str]:
    return {"ETag": etag("policies", 0, newest)}
