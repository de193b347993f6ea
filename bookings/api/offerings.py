"""What can be booked: everybody reads it, admins make and change it."""

from datetime import datetime
from functools import partial

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access, clock
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import AskedFlag, FiveMinutes, Line, Strict, Text, TrueOrFalse
from bookings.api.operation import operation
from bookings.api.output import Output, paged
from bookings.api.paging import PageAsked, page
from bookings.api.references import OfferingNamed
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.offerings import LONGEST, LONGEST_CHANGEOVER, LONGEST_STEP, SHORTEST
from bookings.domain.scopes import PEOPLE, Scope
from bookings.domain.vocabulary import Grid, Kind
from bookings.models import Offering
from bookings.operations.offerings import OfferingValues, change_offering, make_offering
from bookings.queries.offerings import (
    offering_rules,
    offering_with_teachers,
    offerings_with_teachers,
    policy_in_words,
)
from bookings.queries.policies import policy_in_force, rules_then


class OfferingForm(Strict):
    """An offering; lengths in minutes.

    Without `own_changeover_minutes`, or with null, the studio policy gives the changeover. A
    `step_minutes` of 0 is the usual one: 30 on a clock grid, else length and changeover. A packed
    grid has no other.
    """

    wire = {"changeover_minutes": "own_changeover_minutes"}
    name = Line(max_length=80)
    kind = serializers.ChoiceField(choices=[kind.value for kind in Kind])
    summary = Text(max_length=300, required=False, allow_blank=True)
    minutes = FiveMinutes(SHORTEST, LONGEST)
    grid = serializers.ChoiceField(choices=[grid.value for grid in Grid], required=False)
    step_minutes = FiveMinutes(0, LONGEST_STEP, required=False)
    changeover_minutes = FiveMinutes(0, LONGEST_CHANGEOVER, required=False, allow_null=True)
    is_open = TrueOrFalse(required=False)


class OfferingChange(OfferingForm):
    """What is to change. Kind and length stay once something has been booked."""

    name = Line(max_length=80, required=False)
    kind = serializers.ChoiceField(choices=[kind.value for kind in Kind], required=False)
    minutes = FiveMinutes(SHORTEST, LONGEST, required=False)


class OfferingTeacher(Output):
    """Who teaches it, to which levels (1-10, both ends included)."""

    id = serializers.IntegerField(source="instructor_id")
    name = serializers.CharField(source="instructor.user.name")
    lowest_level = serializers.IntegerField()
    highest_level = serializers.IntegerField()


class OfferingOutput(OfferingNamed):
    """An offering; lengths in minutes. `policy` says the rules in sentences."""

    summary = serializers.CharField()
    minutes = serializers.IntegerField()
    changeover_minutes = serializers.IntegerField()
    policy = serializers.ListField(child=serializers.CharField())
    instructors = OfferingTeacher(many=True, source="taught_by")

    def get_changeover_minutes(self, offering: Offering) -> int:
        return offering_rules(offering, self.context["policy"]).changeover_minutes

    def get_policy(self, offering: Offering) -> list[str]:
        return policy_in_words(self.context["policy"], one_on_one=offering.is_one_on_one)


class WholeOfferingOutput(OfferingOutput):
    """An offering with what an admin set: null and 0 stand for the usual changeover and step."""

    grid = serializers.ChoiceField(choices=[grid.value for grid in Grid])
    step_minutes = serializers.IntegerField()
    own_changeover_minutes = serializers.IntegerField(source="changeover_minutes", allow_null=True)
    is_open = serializers.BooleanField()


class OfferingsAsked(PageAsked):
    """Offerings of one kind; with `is_open=false` those that are closed to new bookings."""

    order = ("name", "id")
    in_order = "By name."
    narrows = {"kind": "kind"}
    kind = serializers.ChoiceField(choices=[kind.value for kind in Kind], required=False)
    is_open = AskedFlag(required=False, default=True)


class Offerings(ApiView):
    """Offerings that can be booked now."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "offerings",
        scope=Scope.READ_CALENDAR,
        parameters=[OfferingsAsked],
        responses=paged(OfferingOutput),
    )
    def get(self, request: Request) -> Response:
        wanted = asked(request, OfferingsAsked)
        policy = policy_in_force(clock.now()).rules()
        rows = offerings_with_teachers(is_open=wanted["is_open"])
        rows = OfferingsAsked.narrowed(rows, wanted, me(request))
        return page(request, OfferingsAsked, rows, partial(OfferingOutput.of_all, policy=policy))

    @operation(
        "make_offering",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        request=OfferingForm,
        responses={201: WholeOfferingOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        """One more offering, which nobody teaches yet."""
        access.require_admin(me(request))
        sent: OfferingValues = body(request, OfferingForm)  # type: ignore[assignment]

        def act(now: datetime) -> Result:
            made = make_offering(actor=me(request), values=sent, now=now)
            headers = {**location("offerings", made.pk), **_tag(made)}
            return Result(201, _shown(made, now), headers)

        return answered(request, act)


class OneOffering(ApiView):
    """One offering, open or closed."""

    bodies = {"PATCH"}
    if_match = {"PATCH": NEEDED}

    @operation(
        "offering", scope=Scope.READ_CALENDAR, headers=("ETag",), responses=WholeOfferingOutput
    )
    def get(self, request: Request, pk: int) -> Response:
        found = access.access_offering(pk)
        return Response(_shown(found, clock.now()), headers=_tag(found))

    @operation(
        "change_offering",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(409,),
        request=OfferingChange,
        responses=WholeOfferingOutput,
    )
    def patch(self, request: Request, pk: int) -> HttpResponseBase:
        """What is booked already stays as it is."""
        access.require_admin(me(request))
        sent: OfferingValues = body(request, OfferingChange)  # type: ignore[assignment]

        def act(now: datetime) -> Result:
            found = access.access_offering(pk)
            changed = change_offering(
                actor=me(request),
                offering=found,
                version=version_asked(request, "offering", pk, found.version),
                values=sent,
                now=now,
            )
            return Result(200, _shown(changed, now), _tag(changed))

        return answered(request, act)


def _shown(offering: Offering, now: datetime) -> dict[str, object]:
    return WholeOfferingOutput.of(offering_with_teachers(offering), policy=rules_then(now))


def _tag(offering: Offering) -> dict[str, str]:
    return {"ETag": etag("offering", offering.pk, offering.version)}
