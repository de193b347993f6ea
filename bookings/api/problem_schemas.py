"""Problems as the schema has them.

Each code with members of its own has a component. All other codes share one for each status.
"""

from collections.abc import Callable, Iterator, Mapping
from http import HTTPStatus
from typing import Any

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ResolvedComponent
from rest_framework import serializers

from bookings.api.door import NEAR_CODES
from bookings.api.fields import Wired
from bookings.api.output import Output
from bookings.api.problems import MEDIA_TYPE, FieldProblem
from bookings.api.references import BookingAhead, an_instructor
from bookings.api.slot_serializers import SlotOutput
from bookings.domain.errors import CODES, LOAD_CODES
from bookings.domain.explain import code_for_student
from bookings.domain.weekly import FailedDate

CODE_CHOICES = sorted(CODES)


class FailedDateOutput(Output):
    """A date that cannot be held, and the rule that says so."""

    on = serializers.DateField()
    code = serializers.ChoiceField(choices=CODE_CHOICES)
    detail = serializers.CharField()

    def get_code(self, date: FailedDate) -> str:
        return date.code if self.reader.is_staff else code_for_student(date.code)


class MeetingInTheWay(serializers.Serializer):
    """A meeting that stands in the way, and when it begins."""

    id = serializers.IntegerField()
    starts_at = serializers.DateTimeField()


class WaitingPlaceInTheWay(serializers.Serializer):
    """A place on the waiting list of a meeting, and when that begins."""

    meeting = serializers.IntegerField()
    starts_at = serializers.DateTimeField()


class PlanConflict(serializers.Serializer):
    """A start of a plan that cannot be had any more, and the rule that says so."""

    meeting = serializers.IntegerField(required=False)
    starts_at = serializers.DateTimeField(required=False)
    code = serializers.ChoiceField(choices=CODE_CHOICES)
    detail = serializers.CharField()


class Members(Wired):
    """What a problem may hold beside its sentence, each with what it tells."""

    allowance = serializers.IntegerField(help_text="How many may be open at once.")
    author = an_instructor(help_text="Who wrote the other note.")
    booking = serializers.IntegerField(help_text="The make-up that has been booked.")
    bookings = BookingAhead(many=True, help_text="The bookings that stand in the way.")
    conflicts = PlanConflict(many=True, help_text="What stands against the plan.")
    dates = FailedDateOutput(many=True, help_text="The dates that cannot be held.")
    earlier = serializers.CharField(
        help_text="The last time before the gap, or the first of the two."
    )
    earliest_at = serializers.DateTimeField(help_text="The first start that is open.")
    use_by = serializers.DateField(help_text="The last date on which the make-up may begin.")
    heard_on = serializers.DateField(help_text="The date on which its author heard the student.")
    index = serializers.IntegerField(help_text="Which window of the week, from 0.")
    late = serializers.ListField(
        child=serializers.IntegerField(), help_text="The students who cannot leave in time."
    )
    later = serializers.CharField(
        help_text="The first time after the gap, or the second of the two."
    )
    latest_at = serializers.DateTimeField(help_text="The last start that is open.")
    local_start = serializers.DateTimeField(help_text="The start on the student's clock.")
    location = serializers.CharField(help_text="Where to read what the first request did.")
    meetings = MeetingInTheWay(many=True, help_text="The meetings that stand in the way.")
    missing = serializers.ListField(
        child=serializers.CharField(), help_text="The members that are empty still."
    )
    near = SlotOutput(many=True, help_text="Three starts nearby that can be booked.")
    note = serializers.IntegerField(help_text="The other note, for `over`.")
    retry_after = serializers.IntegerField(help_text="Seconds, as in Retry-After.")
    statement = serializers.IntegerField(help_text="The statement that has some of the days.")
    rules = serializers.ListField(
        child=serializers.ChoiceField(choices=["outside-hours", *LOAD_CODES]),
        help_text="What the instructor would allow.",
    )
    time_zone = serializers.CharField(help_text="The zone meant.")
    version = serializers.IntegerField(help_text="The newest version.")
    waiting_places = WaitingPlaceInTheWay(
        many=True, help_text="The places on waiting lists that stand in the way."
    )
    weekly_places = serializers.ListField(
        child=serializers.IntegerField(), help_text="The weekly places that stand in the way."
    )


_NEAR = dict.fromkeys(NEAR_CODES, ("near",))
MEMBERS: Mapping[str, tuple[str, ...]] = {
    **_NEAR,
    "allowance-used": ("allowance",),
    "already-done": ("location", "statement"),
    "already-released": ("version",),
    "busy": ("retry_after",),
    "clock-fold": ("earlier", "later", "time_zone"),
    "clock-gap": ("earlier", "later", "time_zone"),
    "end-before-start": ("index",),
    "has-bookings": ("bookings", "meetings", "waiting_places", "weekly_places"),
    "incomplete-note": ("missing",),
    "instructor-may-allow": ("rules",),
    "invalid": ("index",),
    "minor-hours": ("local_start", "near", "time_zone"),
    "no-order": ("late",),
    "owed-settled": ("booking",),
    "other-author": ("author", "heard_on", "note"),
    "plan-outdated": ("conflicts",),
    "register-open": ("meetings",),
    "series-dates": ("dates",),
    "term-dates": ("dates",),
    "too-far": ("latest_at", "near"),
    "too-many-requests": ("retry_after",),
    "too-soon": ("earliest_at", "near"),
    "unknown-zone": ("time_zone",),
    "use-by-passed": ("use_by",),
}
"""code -> its members. A member is there where it is known: `near` where a start was asked for."""


def described(schema: AutoSchema, status: int) -> dict[str, Any]:
    """The answers of that status: a reference to what each of its codes may say."""
    variants = [{"$ref": _component(schema, *variant)} for variant in _variants(status)]
    return {
        "description": HTTPStatus(status).phrase,
        "content": {
            MEDIA_TYPE: {"schema": variants[0] if len(variants) == 1 else {"oneOf": variants}}
        },
    }


def _variants(status: int) -> Iterator[tuple[str, list[str], tuple[str, ...]]]:
    """(component, codes, members) of one status; codes with the same members share a component."""
    grouped: dict[tuple[str, ...], list[str]] = {}
    for code in CODE_CHOICES:
        if CODES[code][0] == status:
            grouped.setdefault(MEMBERS.get(code, ()), []).append(code)
    for members, codes in grouped.items():
        with_members = "".join(name.title().replace("_", "") for name in members)
        yield f"Problem{status}{with_members}", codes, members


def _component(schema: AutoSchema, name: str, codes: list[str], members: tuple[str, ...]) -> str:
    words = {"type": "string", "enum": codes}
    _registered(schema, f"{name}Code", lambda: words)
    return _registered(schema, name, lambda: _problem(schema, f"{name}Code", codes, members))


def _registered(schema: AutoSchema, name: str, made: Callable[[], dict[str, Any]]) -> str:
    """The address of a component, made where it is not there yet."""
    component = ResolvedComponent(name, ResolvedComponent.SCHEMA, object=name)
    if component not in schema.registry:
        schema.registry.register(component)
        component.schema = made()
    return str(component.ref["$ref"])


def _problem(
    schema: AutoSchema, code: str, codes: list[str], members: tuple[str, ...]
) -> dict[str, Any]:
    fields = Members().fields
    told = {name: schema._map_serializer_field(fields[name], "response") for name in members}
    field = schema.resolve_serializer(FieldProblem, "response").ref
    text = {"type": "string"}
    status = CODES[codes[0]][0]
    return {
        "type": "object",
        "description": "A refusal (RFC 9457). Act on `code`; `detail` is a sentence for people.",
        "properties": {
            "type": {"type": "string", "format": "uri-reference"},
            "title": text,
            "status": {"type": "integer", "const": status},
            "detail": text,
            "code": {"$ref": f"#/components/schemas/{code}"},
            "instance": {"type": "string", "format": "uri-reference"},
            "errors": {"type": "array", "items": field},
            **told,
        },
        "required": ["type", "title", "status", "detail", "code", "instance"],
    }
