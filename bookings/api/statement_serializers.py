"""Statements of hours as they are sent and shown."""

from rest_framework import serializers

from bookings.api.fields import AskedId, Id, Strict
from bookings.api.output import Output, Utc, local
from bookings.api.paging import PageAsked
from bookings.api.references import an_instructor
from bookings.api.time_fields import Day, InstantOrDay
from bookings.domain.statements import Line, MeetingOutcome
from bookings.domain.vocabulary import Kind


class StatementsAsked(PageAsked):
    """Statements issued in [from, to); of one instructor."""

    wire = {"since": "from", "until": "to"}
    order = ("-first_on", "-id")
    in_order = "The latest dates come first."
    narrows = {"since": "issued_at__gte", "until": "issued_at__lt"}
    instructor = AskedId(required=False)
    since = InstantOrDay(required=False)
    until = InstantOrDay(required=False)


class StatementForm(Strict):
    """An instructor and the first and last day, both included."""

    instructor = Id()
    first_on = Day()
    last_on = Day()


class StatementLineOutput(Output):
    """One line. `counted_minutes` are below 0 where it takes an earlier one back.

    `on` is the date that was promised, on the instructor's clock.
    """

    meeting = serializers.IntegerField(source="meeting_id")
    on = serializers.DateField(source="wall_on")
    starts_at = Utc()
    instructor_local_start = serializers.DateTimeField()
    instructor_time_zone = serializers.CharField(source="time_zone")
    kind = serializers.ChoiceField(choices=[kind.value for kind in Kind])
    booked_minutes = serializers.IntegerField()
    outcome = serializers.ChoiceField(choices=[outcome.value for outcome in MeetingOutcome])
    counts = serializers.BooleanField()
    detail = serializers.CharField(source="why")
    counted_minutes = serializers.IntegerField()
    takes_back = serializers.BooleanField(source="is_counter")

    def get_instructor_local_start(self, line: Line) -> str:
        return local(line.starts_at, line.time_zone)


class WrittenLineOutput(StatementLineOutput):
    """A written line, with the running total and the correction that it belongs to, 0 for none."""

    total_minutes = serializers.IntegerField()
    correction = serializers.IntegerField()


class StatementOutput(Output):
    """A statement as a list shows it. `correction` is the number of the latest one, 0 for none."""

    id = serializers.IntegerField(source="pk")
    instructor = an_instructor()
    first_on = serializers.DateField()
    last_on = serializers.DateField()
    issued_at = Utc()
    total_minutes = serializers.IntegerField()
    correction = serializers.IntegerField(source="corrections_made")


class StatementShownOutput(Output):
    """A statement with its lines.

    `differing` are the lines that a correction would add now, because a register has changed.
    """

    id = serializers.IntegerField(source="statement.pk")
    instructor = an_instructor(source="statement.instructor")
    first_on = serializers.DateField(source="statement.first_on")
    last_on = serializers.DateField(source="statement.last_on")
    issued_at = Utc(source="statement.issued_at")
    total_minutes = serializers.IntegerField()
    correction = serializers.IntegerField()
    lines = WrittenLineOutput(many=True)
    differing = StatementLineOutput(many=True)
