"""Plans as they are asked for and shown."""

from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import PolymorphicProxySerializer
from rest_framework import serializers
from rest_framework.request import Request

from bookings.api.fields import Id, Line, Strict, Whole
from bookings.api.output import Output, Utc
from bookings.api.paging import PageAsked
from bookings.api.time_fields import WEEKDAYS, Clock, Day, Instant, InstantOrDay
from bookings.api.views import body
from bookings.domain.planning.group import Form
from bookings.domain.plans import MOST_SECONDS
from bookings.domain.vocabulary import PlanKind, PlanState
from bookings.domain.wall import clock
from bookings.models import Plan
from bookings.queries.planning.asked_hours import answers_count
from bookings.queries.plans import answer_read_by, progress_read_by


class SecondsForm(Strict):
    """How long the solver may look for the best answer."""

    seconds = Whole(required=False, min_value=1, max_value=MOST_SECONDS)


class GroupInputs(SecondsForm):
    """When these students should meet: dates on the clocks of the instructors, both included.

    With `answer_by` each family is asked for its hours until then. The plan is solved at once by
    what stands, and again by what was said in time. It can be adopted after that.
    """

    offering = Id()
    instructors = serializers.ListField(child=Id(), min_length=1, max_length=20)
    students = serializers.ListField(child=Id(), min_length=1, max_length=500)
    first_on = Day()
    last_on = Day()
    mode = serializers.ChoiceField(choices=[form.value for form in Form])
    meetings = Whole(min_value=1, max_value=40)
    days_apart = Whole(required=False, default=7, min_value=1, max_value=60)
    places = Whole(min_value=1, max_value=500)
    title = Line(max_length=120)
    answer_by = Instant(required=False)


class GroupPlanForm(Strict):
    """When a group should meet."""

    kind = serializers.ChoiceField(choices=[PlanKind.GROUP.value])
    inputs = GroupInputs()


class FixedPlace(Strict):
    """A place that the plan leaves to this student, on the instructor's clock."""

    wire = {"wall_at": "wall_time"}
    student = Id()
    instructor = Id()
    weekday = serializers.ChoiceField(choices=WEEKDAYS)
    wall_at = Clock()

    def to_internal_value(self, data: Any) -> Any:
        read = super().to_internal_value(data)
        return {**read, "weekday": WEEKDAYS.index(read["weekday"])}


class TimetableInputs(SecondsForm):
    """Weekly places in a term, for all of these students together.

    `consents` are students whose family agrees to an hour of burden 8 or more.
    """

    term = Id()
    offering = Id()
    instructors = serializers.ListField(child=Id(), min_length=1, max_length=50)
    students = serializers.ListField(child=Id(), min_length=1, max_length=500)
    fixed: Any = serializers.ListField(child=FixedPlace(), required=False, max_length=500)
    consents = serializers.ListField(child=Id(), required=False, max_length=500)


class TimetablePlanForm(Strict):
    """The timetable of a term."""

    kind = serializers.ChoiceField(choices=[PlanKind.TIMETABLE.value])
    inputs = TimetableInputs()


class CoverInputs(SecondsForm):
    """Who covers the lessons of this instructor that start in these hours, at most 14 days."""

    instructor = Id()
    starts_at = Instant()
    ends_at = Instant()


class CoverPlanForm(Strict):
    """Who covers an instructor's lessons."""

    kind = serializers.ChoiceField(choices=[PlanKind.COVER.value])
    inputs = CoverInputs()


class WhoNextInputs(SecondsForm):
    """Whose students due a review are to be proposed times, and of which one-on-one. An admin names
    the instructor; an instructor asks for themselves.
    """

    instructor = Id(required=False)
    offering = Id()


class WhoNextPlanForm(Strict):
    """Who is next: a time for each student due a review, all held together."""

    kind = serializers.ChoiceField(choices=[PlanKind.WHO_NEXT.value])
    inputs = WhoNextInputs()


class ExchangeInputs(Strict):
    """The term whose families' orders are read."""

    term = Id()


class ExchangePlanForm(Strict):
    """Which weekly places could change hands."""

    kind = serializers.ChoiceField(choices=[PlanKind.EXCHANGE.value])
    inputs = ExchangeInputs()


FORMS: Mapping[PlanKind, type[Strict]] = {
    PlanKind.COVER: CoverPlanForm,
    PlanKind.EXCHANGE: ExchangePlanForm,
    PlanKind.GROUP: GroupPlanForm,
    PlanKind.TIMETABLE: TimetablePlanForm,
    PlanKind.WHO_NEXT: WhoNextPlanForm,
}

PLAN_FORM = PolymorphicProxySerializer(
    component_name="PlanForm",
    serializers={kind.value: form for kind, form in FORMS.items()},
    resource_type_field_name="kind",
)


class _AnyKind(Strict):
    """The kind alone, where no form has it."""

    kind = serializers.ChoiceField(choices=[kind.value for kind in FORMS])
    inputs = serializers.DictField()


def read_plan(request: Request) -> tuple[PlanKind, dict[str, Any]]:
    """The kind asked for and its inputs as plain values, checked by the form of that kind."""
    sent = request.data
    kind = sent.get("kind") if isinstance(sent, Mapping) else None
    known = {kind.value: form for kind, form in FORMS.items()}
    form = known.get(kind) if isinstance(kind, str) else None
    read = body(request, form or _AnyKind)
    return PlanKind(read["kind"]), read["inputs"]


class PlansAsked(PageAsked):
    """Plans asked for in [from, to), of one kind, in one standing."""

    wire = {"since": "from", "until": "to"}
    order = ("-made_at", "-id")
    in_order = "The latest comes first."
    narrows = {
        "kind": "kind",
        "standing": "state",
        "since": "made_at__gte",
        "until": "made_at__lt",
    }
    kind = serializers.ChoiceField(choices=[kind.value for kind in PlanKind], required=False)
    standing = serializers.ChoiceField(choices=[state.value for state in PlanState], required=False)
    since = InstantOrDay(required=False)
    until = InstantOrDay(required=False)


class PlanOutput(Output):
    """A plan.

    `inputs` is what was asked, `answer` what the solver found, both in the form of the kind. `gap`
    is at most how much worse than the best the answer is; 0 means that no better one exists.
    `progress` is what the solver last said: `stage`, the `value` so far, its `bound`, `seconds`.
    What hours cost families, `value` and `bound` are for admins. `members_asked` and
    `members_answered` count the students whose families are asked for their hours until
    `answer_by`; `closed_at` is when the answers closed and the plan was to be solved by them.
    """

    id = serializers.IntegerField(source="pk")
    kind = serializers.ChoiceField(choices=[kind.value for kind in PlanKind])
    standing = serializers.ChoiceField(choices=[state.value for state in PlanState], source="state")
    inputs = serializers.DictField(source="asked")
    answer = serializers.DictField(allow_null=True)
    progress = serializers.DictField()
    gap = serializers.FloatField(allow_null=True)
    failure = serializers.CharField()
    made_at = Utc()
    answer_by = Utc(allow_null=True)
    members_asked = serializers.IntegerField()
    members_answered = serializers.IntegerField()
    closed_at = Utc(allow_null=True)
    stop_asked_at = Utc(allow_null=True)
    solved_at = Utc(allow_null=True)
    ended_at = Utc(allow_null=True)

    def get_inputs(self, plan: Plan) -> Any:
        return _on_the_wire(plan.asked)

    def get_members_asked(self, plan: Plan) -> int:
        return answers_count(plan).asked

    def get_members_answered(self, plan: Plan) -> int:
        return answers_count(plan).answered

    def get_answer(self, plan: Plan) -> Any:
        return _on_the_wire(answer_read_by(plan, self.reader))

    def get_progress(self, plan: Plan) -> dict[str, Any]:
        return progress_read_by(plan, self.reader)


def _on_the_wire(value: Any) -> Any:
    """Stored values with weekdays and wall times as the API writes them everywhere."""
    if isinstance(value, list):
        return [_on_the_wire(one) for one in value]
    if not isinstance(value, dict):
        return value
    shown = {name: _on_the_wire(one) for name, one in value.items()}
    if "wall_at" in shown:
        shown["wall_time"] = clock(shown.pop("wall_at"))
        shown["weekday"] = WEEKDAYS[shown["weekday"]]
    return shown
