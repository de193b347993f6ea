"""Proposed times as they are sent and shown."""

from rest_framework import serializers

from bookings.api.fields import AskedId, Id, Strict
from bookings.api.output import Output, Utc, local
from bookings.api.paging import PageAsked
from bookings.api.references import Known, Named, OfferingNamed, an_instructor, student_known
from bookings.api.time_fields import Instant
from bookings.api.variants import EitherForm
from bookings.domain.vocabulary import Ended, Standing
from bookings.models import Booking, ProposedTimes


class NewTimesForm(Strict):
    """One to three starts for a student whom the instructor teaches."""

    student = Id()
    offering = Id()
    instructor = Id()
    starts = serializers.ListField(child=Instant(), min_length=1, max_length=3)


class OtherTimesForm(Strict):
    """One to three other starts, in answer to a request to move."""

    move_request = Id()
    starts = serializers.ListField(child=Instant(), min_length=1, max_length=3)


PROPOSAL = EitherForm("ProposedTimesForm", "move_request", OtherTimesForm, NewTimesForm)


class TakingForm(Strict):
    """Which of the times: the id of its booking."""

    booking = Id()


class OneTimeOutput(Output):
    """One start, with the id that takes it. It is ENDED once it can no longer be taken."""

    booking = serializers.IntegerField(source="pk")
    starts_at = Utc()
    ends_at = Utc()
    local_start = serializers.DateTimeField()
    instructor_local_start = serializers.DateTimeField()
    standing = serializers.ChoiceField(choices=[standing.value for standing in Standing])

    def get_local_start(self, time: Booking) -> str:
        return local(time.starts_at, self.reader_zone)

    def get_instructor_local_start(self, time: Booking) -> str:
        return local(time.starts_at, time.meeting.zone)


class ProposalsAsked(PageAsked):
    """Proposals to one student, of one instructor's times."""

    order = ("answer_by", "id")
    in_order = "By the time until which an answer counts."
    narrows = {"student": "student", "instructor": "instructor"}
    student = AskedId(required=False)
    instructor = AskedId(required=False)


class ProposedTimesOutput(Output):
    """Times proposed to a student until `answer_by`.

    With `move_request`, taking one moves the lesson that the family asked to move.
    """

    id = serializers.IntegerField(source="pk")
    student = Named()
    offering = OfferingNamed()
    instructor = an_instructor()
    move_request = serializers.IntegerField(source="move_request_id", allow_null=True)
    made_at = Utc()
    answer_by = Utc()
    ended_at = Utc(allow_null=True)
    ended_reason = serializers.ChoiceField(
        choices=["", *(why.value for why in Ended)], source="ended_why"
    )
    times = OneTimeOutput(many=True)

    def get_student(self, row: ProposedTimes) -> Known:
        return student_known(row.student, row.instructor, self.reader)

    def get_times(self, row: ProposedTimes) -> list[Booking]:
        return list(row.times.all())
