"""A student's practice: the plan that counts, its ticks, and the last fourteen days.

For the student and, while the student is a minor, their guardians. An instructor reads the days in
the brief.
"""

from datetime import datetime
from types import SimpleNamespace
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request

from bookings.api.door import Result, answered
from bookings.api.fields import Id, Strict, Whole
from bookings.api.operation import operation
from bookings.api.output import Output
from bookings.api.time_fields import Day
from bookings.api.views import ApiView, body, me
from bookings.domain.practising import Step
from bookings.domain.scopes import PEOPLE
from bookings.operations.practice import open_practice, tick, untick
from bookings.queries.practice import Practice


class PracticeDayOutput(Output):
    """The minutes ticked for one day."""

    on = serializers.DateField()
    minutes = serializers.IntegerField()


class StepOutput(Output):
    """One item of the plan. `rests_first` says to rest 5 minutes before it.

    `ticked_days` are those of the last 14 that it is ticked for.
    """

    item = serializers.IntegerField()
    what = serializers.CharField()
    minutes = serializers.IntegerField()
    is_review = serializers.BooleanField()
    rests_first = serializers.BooleanField()
    ticked_days = serializers.ListField(child=serializers.DateField())

    def get_ticked_days(self, step: Step) -> list[str]:
        ticked = self.context["ticked"]
        return sorted(on.isoformat() for on, item in ticked if item == step.item)


class PracticeOutput(Output):
    """The plan of the latest released assessment that has one, older pieces last.

    `today` is the date on the student's clock. `plan` is the id of the assessment. It is null and
    `items` is empty where there is no plan. `newer` is the id of a later assessment that has next
    steps and no plan: its steps count, and not the plan's. `tickable_days` are today and yesterday,
    but no day before the plan was given.
    """

    today = serializers.DateField()
    plan = serializers.IntegerField(allow_null=True)
    newer = serializers.IntegerField(allow_null=True)
    minutes = serializers.IntegerField()
    tickable_days = serializers.ListField(child=serializers.DateField(), source="tickable")
    items = StepOutput(many=True, source="steps")
    days = PracticeDayOutput(many=True, source="practised.days")

    def get_plan(self, practice: Practice) -> int | None:
        return practice.plan.pk if practice.plan else None

    def get_newer(self, practice: Practice) -> int | None:
        return practice.newer.pk if practice.newer else None


class Practising(ApiView):
    """What to practise today, and what has been ticked."""

    @operation("practice", scope=PEOPLE, responses=PracticeOutput)
    def get(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            practice = open_practice(reader=me(request), student_id=pk, now=now)
            return Result(200, PracticeOutput.of(practice, ticked=practice.ticked), kept=False)

        # A reading is logged: the text is shown once that is committed.
        return answered(request, act)


class TickForm(Strict):
    """One item of one plan on one day: one of the practice's `tickable_days`."""

    plan = Id()
    item = Whole(min_value=0, max_value=7)
    on = Day()


class TickOutput(Output):
    """What is ticked, or is no longer."""

    plan = serializers.IntegerField()
    item = serializers.IntegerField()
    on = serializers.DateField()


class Ticking(ApiView):
    """Ticks an item as practised. Doing so again changes nothing."""

    bodies = {"POST"}

    @operation(
        "tick_practice", scope=PEOPLE, refused=(409,), request=TickForm, responses=TickOutput
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _answered(request, pk, tick)


class Unticking(ApiView):
    """Takes a tick back. Nothing changes where there is none."""

    bodies = {"POST"}

    @operation(
        "untick_practice", scope=PEOPLE, refused=(409,), request=TickForm, responses=TickOutput
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _answered(request, pk, untick)


def _answered(request: Request, pk: int, verb: Any) -> HttpResponseBase:
    sent, user = body(request, TickForm), me(request)

    def act(now: datetime) -> Result:
        verb(
            actor=user,
            student_id=pk,
            assessment_id=sent["plan"],
            item=sent["item"],
            on=sent["on"],
            now=now,
        )
        return Result(200, TickOutput.of(SimpleNamespace(**sent)))

    return answered(request, act)
