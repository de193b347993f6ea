"""Hours that an instructor cannot teach. An admin names the instructor."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import clock
from bookings.api.door import Result, answered
from bookings.api.fields import Id, Line, Strict
from bookings.api.hours import InstructorAsked, asked_instructor
from bookings.api.meeting_serializers import MeetingOutput, shown_meetings
from bookings.api.named import whose_time
from bookings.api.operation import operation
from bookings.api.references import an_instructor
from bookings.api.time_fields import Instant, InstantOrDay, as_instant, check_span
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.clearing import Decision, Remedy
from bookings.domain.errors import Refused
from bookings.domain.scopes import PEOPLE
from bookings.domain.timeline import Period
from bookings.operations.clearing import Done
from bookings.operations.days_away import clear_hours
from bookings.queries.clearing_shown import Option, options_in
from bookings.queries.teaching import zone_of_hours

MOST_DECISIONS = 500
REMEDIES = [remedy.value for remedy in Remedy]


class StretchAsked(InstructorAsked):
    """A stretch of hours of one instructor; the caller where left out."""

    wire = {"since": "from", "until": "to"}
    since = InstantOrDay()
    until = InstantOrDay()


class RemedyOutput(MeetingOutput):
    """A meeting in the stretch, and what is suggested for it.

    `substitute` could take it within their hours and load. Without one, `not_covered_reason` says
    why.
    """

    remedy = serializers.ChoiceField(choices=REMEDIES)
    substitute = an_instructor(allow_null=True)
    not_covered_reason = serializers.CharField()


class RemediesOutput(serializers.Serializer):
    """The meetings by start. Send `meetings_digest` back, so that nothing is done unread."""

    results = RemedyOutput(many=True)
    meetings_digest = serializers.CharField()


class DecisionForm(Strict):
    """What becomes of one meeting: `substitute` with `cover`; `new_starts_at` with `move`, or else
    the next free start at no hard hour. A group can only be called off.
    """

    wire = {"instructor_id": "substitute", "meeting_id": "meeting", "starts_at": "new_starts_at"}
    meeting_id = Id()
    remedy = serializers.ChoiceField(choices=REMEDIES)
    instructor_id = Id(required=False)
    starts_at = Instant(required=False)


def decisions_of(sent: dict[str, Any]) -> list[Decision]:
    """What a body decides for each meeting."""
    return [
        Decision(
            one["meeting_id"],
            Remedy(one["remedy"]),
            one.get("instructor_id"),
            one.get("starts_at"),
        )
        for one in sent["decisions"]
    ]


class ClearForm(Strict):
    """The stretch, and a decision for every meeting ahead that reaches into it."""

    wire = {"seen": "meetings_digest", "why": "call_off_reason"}
    instructor = Id(required=False)
    starts_at = Instant()
    ends_at = Instant()
    why = Line(max_length=200, required=False)
    seen = Line(max_length=64, required=False)
    decisions: Any = serializers.ListField(child=DecisionForm(), max_length=MOST_DECISIONS)


class ClearedOutput(serializers.Serializer):
    """What became of the meetings. Each family has been sent one email."""

    called_off = MeetingOutput(many=True)
    covered = MeetingOutput(many=True)
    moved = MeetingOutput(many=True)


class ClearedHours(ApiView):
    """The hours that an instructor cannot teach, on an ill day or a journey."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "hours_to_clear",
        scope=PEOPLE,
        refused=(403, 404),
        parameters=[StretchAsked],
        responses=RemediesOutput,
    )
    def get(self, request: Request) -> Response:
        """Suggests what becomes of each meeting; substitutes are found for all together."""
        wanted, user = asked(request, StretchAsked), me(request)
        instructor = whose_time(user, {"instructor": wanted.get("instructor")})
        since, until = (
            as_instant(wanted[name], zone_of_hours(instructor)) for name in ("since", "until")
        )
        check_span(since, until)
        options = options_in(instructor, Period(since, until), {}, reader=user, now=clock.now())
        shown = shown_meetings([row.meeting for row in options.rows], user)
        rows = [_suggested(meeting, row) for meeting, row in zip(shown, options.rows, strict=True)]
        return Response({"results": rows, "meetings_digest": options.seen})

    @operation(
        "clear_hours",
        scope=PEOPLE,
        refused=(404, 409, 412),
        request=ClearForm,
        responses=ClearedOutput,
    )
    def post(self, request: Request) -> HttpResponseBase:
        """Calls off, covers or moves each meeting, with one email to each family.

        Nothing new is offered in these hours from then on, until they are removed in `days-away/`.
        """
        sent, user = body(request, ClearForm), me(request)

        def act(now: datetime) -> Result:
            instructor = asked_instructor(request, sent.get("instructor"))
            if sent["ends_at"] <= sent["starts_at"]:
                raise Refused("end-before-start", "Choose an end after the start.", field="ends_at")
            done = clear_hours(
                actor=user,
                instructor=instructor,
                stretch=Period(sent["starts_at"], sent["ends_at"]),
                decisions=decisions_of(sent),
                why=sent.get("why", ""),
                seen=sent.get("seen"),
                now=now,
            )
            return Result(200, became_of(done, user))

        return answered(request, act)


def became_of(done: Done, user: User) -> dict[str, Any]:
    """The meetings of an act under what became of them."""
    became = {
        "called_off": done.called_off,
        "covered": done.those(Remedy.COVER),
        "moved": done.those(Remedy.MOVE),
    }
    return {name: shown_meetings(rows, user) for name, rows in became.items()}


def _suggested(meeting: dict[str, Any], row: Option) -> dict[str, Any]:
    substitute = row.substitute
    return {
        **meeting,
        "remedy": row.decision.remedy.value,
        "substitute": an_instructor().to_representation(substitute) if substitute else None,
        "not_covered_reason": row.why_not,
    }
