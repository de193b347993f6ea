"""Wrapping up a lesson in one call: the register, the note and the next date, or none of them."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request

from bookings import access
from bookings.api.booking_serializers import BookingOutput
from bookings.api.door import Result, answered
from bookings.api.fields import Strict, TrueOrFalse
from bookings.api.note_serializers import NoteChange, NoteOutput, ReleaseForm, note_text
from bookings.api.operation import operation
from bookings.api.output import Output, Utc
from bookings.api.time_fields import Instant
from bookings.api.views import ApiView, body, me
from bookings.domain.errors import Refused
from bookings.domain.proposed_times import MOST_TIMES
from bookings.domain.scopes import PEOPLE
from bookings.domain.vocabulary import Attendance
from bookings.models import Assessment, Booking
from bookings.operations.note_text import NoteText
from bookings.operations.wrap_up import NextDate, Release, WrappedUp, wrap_up


class NextDateForm(Strict):
    """One start to `book`, or up to three to `propose`; neither leaves the next date open."""

    book = Instant(required=False)
    propose = serializers.ListField(child=Instant(), max_length=MOST_TIMES, required=False)


class WrapUpForm(ReleaseForm):
    """Who came, the whole text of the note, whether it is released, and the next date.

    What is left out stays as it is. `read_at` is the `written_at` of the draft that your reader has
    read; leave it out where there was none. A draft that has changed since is never overwritten.
    """

    attendance = serializers.ChoiceField(
        choices=[attendance.value for attendance in Attendance], required=False
    )
    note = NoteChange(required=False)
    read_at = Instant(required=False)
    release = TrueOrFalse(required=False, default=False)
    next = NextDateForm(required=False)


class WrapUpOutput(Output):
    """What stands now: the booking `wrapped_up` and the note `written` about it.

    `written_at` is the `read_at` of the next call about this draft.
    """

    wrapped_up = BookingOutput()
    written = NoteOutput(allow_null=True)
    written_at = Utc(allow_null=True)
    booked = BookingOutput(allow_null=True)
    proposal = serializers.IntegerField(allow_null=True)

    def get_wrapped_up(self, done: WrappedUp) -> Booking:
        return done.booking

    def get_written(self, done: WrappedUp) -> Assessment | None:
        return done.note

    def get_written_at(self, done: WrappedUp) -> datetime | None:
        return done.note.written_at if done.note else None

    def get_booked(self, done: WrappedUp) -> Booking | None:
        return done.booked

    def get_proposal(self, done: WrappedUp) -> int | None:
        return done.proposed.pk if done.proposed else None


class WrapUp(ApiView):
    """For the meeting's instructor, once the meeting has begun.

    A refusal points in `errors` at the part that was refused, and nothing of the others is kept.
    Over another instructor's latest note it is "other-author": send its id in `over` once your
    reader has been asked.
    """

    bodies = {"POST"}

    @operation(
        "wrap_up", scope=PEOPLE, refused=(409, 412), request=WrapUpForm, responses=WrapUpOutput
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, WrapUpForm), me(request)

        def act(now: datetime) -> Result:
            booking = access.access_wrap_up(user, pk, now=now)
            try:
                done = wrap_up(actor=user, booking=booking, now=now, **_asked(sent))
            except Refused as refusal:
                raise _at_part(refusal) from None
            return Result(200, WrapUpOutput.of(done, reader=user), kept=False)

        return answered(request, act)


def _at_part(refusal: Refused) -> Refused:
    """The refusal, pointing at the member that was refused."""
    data = dict(refusal.data)
    part, field = data.pop("part", None), data.pop("field", "")
    if part is None:
        return refusal
    pointer = {"register": "#/attendance", "note": "#/note", "next": "#/next"}[part]
    if part == "note" and field:
        pointer = "#/over" if field == "over" else f"#/note/{field}"
    return Refused(
        refusal.code,
        refusal.detail,
        **{**data, "errors": [{"detail": refusal.detail, "pointer": pointer}]},
    )


def _asked(sent: dict[str, Any]) -> dict[str, Any]:
    """What was sent, as the operation takes it."""
    asked: dict[str, Any] = {"read_at": sent.get("read_at")}
    if "attendance" in sent:
        asked["attendance"] = Attendance(sent["attendance"])
    if "note" in sent:
        asked["text"] = NoteText(**note_text(sent["note"]))
    if sent["release"]:
        asked["release"] = Release(over=sent.get("over"), adopt=sent["adopt"])
    if "next" in sent:
        asked["next_date"] = NextDate(**sent["next"])
    return asked
