"""Reading a released assessment, and the brief.

Every reading is logged before the text is shown. No answer with the text is stored.
"""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request

from bookings import access
from bookings.api.booking_serializers import BookingOutput
from bookings.api.door import Result, answered
from bookings.api.fields import Line, Strict
from bookings.api.note_serializers import HistoryAsked, ReleasedNote
from bookings.api.operation import operation
from bookings.api.output import local, paged
from bookings.api.paging import page
from bookings.api.practice import PracticeDayOutput
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.practising import PracticeDay
from bookings.domain.scopes import PEOPLE
from bookings.models import Assessment, Booking
from bookings.operations.reading_notes import open_history, read_carried, read_latest
from bookings.queries.practice import practised
from bookings.reading import read_hurts

_NOTES_PAGE = paged(ReleasedNote)


class ReadingReasonForm(Strict):
    """Why an admin needs to read the note. The reason is kept.

    It is in the body because addresses are logged, and a reason must not be.
    """

    reason = Line(max_length=200)


class LatestAssessment(ApiView):
    """A student's latest released assessment, for the student, guardians and instructors.

    An admin reads it by POST, with a reason.
    """

    bodies = {"POST"}

    @operation("latest_assessment", scope=PEOPLE, refused=(422,), responses=ReleasedNote)
    def get(self, request: Request, pk: int) -> HttpResponseBase:
        return _latest(request, pk)

    @operation(
        "read_latest_assessment",
        scope=PEOPLE,
        refused=(409,),
        request=ReadingReasonForm,
        responses=ReleasedNote,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _latest(request, pk, body(request, ReadingReasonForm)["reason"])


def _latest(request: Request, pk: int, reason: str = "") -> HttpResponseBase:
    def act(now: datetime) -> Result:
        read = read_latest(reader=me(request), student_id=pk, reason=reason, now=now)
        shown = ReleasedNote.of(read.notes[0], readings=read.readings)
        return Result(200, shown, kept=False)

    return answered(request, act)  # a reading is logged: the text is shown once that is committed


class AssessmentHistory(ApiView):
    """Every released note about a student in its newest version.

    It is for the student, guardians, their regular instructor, and instructors who have released
    a note about the student and may write about them now. An admin reads it by POST, with a reason,
    and sends the reason again to each page.
    """

    queries = {"GET", "POST"}
    bodies = {"POST"}

    @operation("assessment_history", scope=PEOPLE, parameters=[HistoryAsked], responses=_NOTES_PAGE)
    def get(self, request: Request, pk: int) -> HttpResponseBase:
        return self._page(request, pk)

    @operation(
        "read_assessment_history",
        scope=PEOPLE,
        parameters=[HistoryAsked],
        refused=(409,),
        request=ReadingReasonForm,
        responses=_NOTES_PAGE,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return self._page(request, pk, body(request, ReadingReasonForm)["reason"])

    def _page(self, request: Request, pk: int, reason: str = "") -> HttpResponseBase:
        wanted = asked(request, HistoryAsked)

        def act(now: datetime) -> Result:
            history = open_history(reader=me(request), student_id=pk, reason=reason, now=now)

            def shown(rows: list[Assessment]) -> list[dict[str, Any]]:
                read = history.read(rows)
                return ReleasedNote.of_all(read.notes, readings=read.readings)

            rows = HistoryAsked.narrowed(history.rows, wanted, me(request))
            return Result(200, page(request, HistoryAsked, rows, shown).data, kept=False)

        return answered(request, act)


class BriefOutput(BookingOutput):
    """What an instructor reads before a meeting.

    It holds the booking with its intake, what hurts, where the student stands, and the latest note,
    with the minutes practised on each of the last 14 days of the student's clock.
    """

    level = serializers.IntegerField(source="student.level")
    unit = serializers.IntegerField(source="student.unit")
    student_time_zone = serializers.CharField(source="student.zone")
    student_local_start = serializers.DateTimeField()
    hurts = serializers.CharField()
    assessment = ReleasedNote(allow_null=True)
    practised = PracticeDayOutput(many=True, allow_null=True)

    def get_student_local_start(self, booking: Booking) -> str:
        return local(booking.starts_at, booking.student.zone)

    def get_hurts(self, _: Booking) -> str:
        hurts: str = self.context["hurts"]
        return hurts

    def get_assessment(self, booking: Booking) -> Assessment | None:
        note: Assessment | None = self.context["note"]
        return note

    def get_practised(self, booking: Booking) -> list[PracticeDay] | None:
        days: list[PracticeDay] | None = self.context["days"]
        return days


class Brief(ApiView):
    """For the meeting's instructor."""

    @operation("brief", scope=PEOPLE, responses=BriefOutput)
    def get(self, request: Request, pk: int) -> HttpResponseBase:
        user = me(request)

        def act(now: datetime) -> Result:
            booking = access.access_brief(user, pk, now=now)
            note = read_carried(reader=user, booking=booking, now=now)
            days = practised(booking.student, now=now).days if note else None
            hurts = read_hurts(user, booking, now=now)
            shown = BriefOutput.of(booking, reader=user, note=note, days=days, hurts=hurts)
            return Result(200, shown, kept=False)

        return answered(
            request, act
        )  # a reading is logged: the text is shown once that is committed
