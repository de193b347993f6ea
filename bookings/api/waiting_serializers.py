"""Places on waiting lists as they are sent, asked for and shown."""

from rest_framework import serializers

from bookings import access, clock
from bookings.api.fields import AskedId, Id, Line, Strict
from bookings.api.output import Output, Utc, paged
from bookings.api.paging import PageAsked
from bookings.api.places import KINDS
from bookings.api.references import Known, Named
from bookings.domain.vocabulary import PlaceKind
from bookings.models import WaitingPlace


class WaitingOutput(Output):
    """A place on a waiting list.

    `rank` 1 is the first of those without an offer. It is null for whoever has one. `is_next` is an
    exception of an admin's: the next free place is offered to this student before the others.
    """

    wire = {"place_kind": "as"}
    id = serializers.IntegerField()
    meeting = serializers.IntegerField(source="meeting_id")
    student = Named()
    level = serializers.IntegerField(source="student.level")
    unit = serializers.IntegerField(source="student.unit")
    place_kind = serializers.ChoiceField(choices=KINDS)
    rank = serializers.IntegerField(allow_null=True)
    is_next = serializers.BooleanField()
    joined_at = Utc()
    piece = serializers.CharField()
    recording = serializers.CharField()

    def get_student(self, row: WaitingPlace) -> Known:
        student = row.student
        return Known(student.pk, access.name_for(self.reader, student, clock.now()))


WAITING_PAGE = paged(WaitingOutput)


class WaitForm(Strict):
    """Who waits for what; one's only student is understood."""

    wire = {"place_kind": "as"}
    student = Id(required=False)
    place_kind = serializers.ChoiceField(
        choices=KINDS, required=False, default=PlaceKind.PLAYER.value
    )


class JoinForm(WaitForm):
    """The same; `piece` and `recording` are kept where the school chooses the players."""

    piece = Line(max_length=200, required=False, allow_blank=True, default="")
    recording = Line(max_length=300, required=False, allow_blank=True, default="")


class WaitAsked(WaitForm):
    """The same, in the query string."""

    student = AskedId(required=False)  # type: ignore[assignment]  # the same id, read from text


class WaitingListAsked(PageAsked):
    """Those who wait for a place of one kind, and one student's places."""

    wire = {"place_kind": "as"}
    order = ("-place_kind", "joined_at", "id")
    in_order = "Players come first, each line in order of joining."
    narrows = {"place_kind": "place_kind", "student": "student"}
    place_kind = serializers.ChoiceField(choices=KINDS, required=False)
    student = AskedId(required=False)


class WaitingPlacesAsked(PageAsked):
    """Where one student waits, or who waits for one meeting."""

    order = ("joined_at", "id")
    in_order = "In order of joining."
    narrows = {"student": "student", "meeting": "meeting"}
    student = AskedId(required=False)
    meeting = AskedId(required=False)


class OffersAsked(PageAsked):
    """Offers to one student, in one meeting."""

    order = ("answer_by", "id")
    in_order = "By the time until which an answer counts."
    narrows = {"student": "student", "meeting": "meeting"}
    student = AskedId(required=False)
    meeting = AskedId(required=False)
