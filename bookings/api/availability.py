"""An instructor's hours as a calendar file (RFC 7953), and what such a file would make of them."""

from typing import Any

from django.http import HttpResponse
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Instructor
from bookings import clock
from bookings.api.fields import FileText, Id, Strict
from bookings.api.hours import InstructorAsked, WindowForm, asked_instructor
from bookings.api.operation import operation
from bookings.api.output import Output, ZoneName
from bookings.api.references import an_instructor
from bookings.api.time_fields import WEEKDAYS, Clock
from bookings.api.views import ApiView, body
from bookings.calendars.availability import MOST_BYTES
from bookings.domain.proposals import Proposal
from bookings.domain.scopes import PEOPLE
from bookings.queries.availability import hours_file, proposal_from


class HoursFile(ApiView):
    """The published hours as a file: week, extra hours and days away from today on."""

    queries = {"GET"}

    @operation(
        "hours_file",
        scope=PEOPLE,
        headers=("Content-Disposition",),
        refused=(403, 404),
        parameters=[InstructorAsked],
        responses={(200, "text/calendar"): str},
    )
    def get(self, request: Request) -> HttpResponse:
        return HttpResponse(
            hours_file(asked_instructor(request), now=clock.now()),
            content_type="text/calendar; charset=utf-8",
            headers={"Content-Disposition": 'attachment; filename="hours.ics"'},
        )


class ProposalForm(Strict):
    """A calendar file that holds a VAVAILABILITY."""

    instructor = Id(required=False)
    calendar = FileText(max_length=MOST_BYTES, trim_whitespace=False)


class ExtraProposed(serializers.Serializer):
    """Extra hours on one date."""

    on = serializers.DateField()
    opens = Clock()
    closes = Clock()


class AwayProposed(serializers.Serializer):
    """Days away, both included."""

    first_on = serializers.DateField()
    last_on = serializers.DateField()


class ProposalOutput(Output):
    """The hours that a file gives, all in one zone.

    `unexpressed` says in words what could not be imported. Send the hours to teaching-hours/,
    extra-hours/ and days-away/ to publish them.
    """

    instructor = an_instructor()
    time_zone = ZoneName()
    windows = WindowForm(many=True)
    extra_hours = ExtraProposed(many=True)
    days_away = AwayProposed(many=True)
    unexpressed = serializers.ListField(child=serializers.CharField())

    def get_instructor(self, proposal: Proposal) -> Instructor:
        instructor: Instructor = self.context["instructor"]
        return instructor

    def get_windows(self, proposal: Proposal) -> list[dict[str, Any]]:
        return [
            {"weekday": WEEKDAYS[weekday], "opens": opens, "closes": closes}
            for weekday, opens, closes in proposal.windows
        ]

    def get_extra_hours(self, proposal: Proposal) -> list[dict[str, Any]]:
        return [
            {"on": on, "opens": opens, "closes": closes} for on, opens, closes in proposal.extra
        ]

    def get_days_away(self, proposal: Proposal) -> list[dict[str, Any]]:
        return [{"first_on": first_on, "last_on": last_on} for first_on, last_on in proposal.away]


class HoursProposal(ApiView):
    """Reads a file and writes nothing.

    The answer is the week, extra hours and days away of the coming year as the file has them.
    """

    bodies = {"POST"}

    @operation(
        "propose_hours",
        scope=PEOPLE,
        refused=(404,),
        request=ProposalForm,
        responses=ProposalOutput,
    )
    def post(self, request: Request) -> Response:
        sent = body(request, ProposalForm)
        instructor = asked_instructor(request, sent.get("instructor"))
        proposal = proposal_from(sent["calendar"], instructor, now=clock.now())
        return Response(ProposalOutput.of(proposal, instructor=instructor))
