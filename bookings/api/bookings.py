"""Bookings: list, read, book, and the meeting as a calendar file."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db.models import QuerySet
from django.http import HttpResponse, HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Student, User
from bookings import access, clock
from bookings.api.addresses import location
from bookings.api.conditions import etag
from bookings.api.door import Answer, write
from bookings.api.fields import (
    AskedId,
    Id,
    Instant,
    InstantOrDay,
    Line,
    Strict,
    Text,
    Zone,
    as_instant,
    moment,
)
from bookings.api.named import named_meeting, named_student, open_offering, pointing_at
from bookings.api.operation import operation
from bookings.api.paging import PageAsked, page
from bookings.api.serializers import BOOKING_PAGE, BookingOutput
from bookings.api.slot_serializers import shown_slots
from bookings.api.variants import EitherForm
from bookings.api.views import ApiView, asked, me
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlaceKind, Standing
from bookings.models import Booking, Offering
from bookings.operations.booking import IntakeText, book_slot
from bookings.operations.waiting import book_place
from bookings.queries.calendars import meeting_file
from bookings.queries.offerings import open_offerings
from bookings.queries.slots import Found, near
from bookings.queries.teaching import teacher


class IntakeForm(Strict):
    """What the student writes before: up to three questions, the most pressing first."""

    questions = serializers.ListField(child=Text(max_length=300), max_length=3, required=False)
    pieces = Text(max_length=500, required=False, allow_blank=True)
    recordings = serializers.ListField(child=Line(max_length=300), max_length=5, required=False)
    obstacle = Text(max_length=500, required=False, allow_blank=True)


class SlotForm(Strict):
    """A one-on-one at a start; guardians and admins name the student.

    `starts_at` carries its offset, or is a wall time of the `time_zone` named with it.
    """

    offering = Id()
    instructor = Id()
    starts_at = Instant(wall=True)
    time_zone = Zone(required=False)
    intake = IntakeForm(required=False)
    student = Id(required=False)


class PlaceForm(Strict):
    """A place in a group meeting; guardians and admins name the student."""

    wire = {"place_kind": "as"}
    meeting = Id()
    place_kind = serializers.ChoiceField(
        choices=[kind.value for kind in PlaceKind], required=False, default=PlaceKind.PLAYER.value
    )
    student = Id(required=False)


BOOKING = EitherForm("BookingForm", "meeting", PlaceForm, SlotForm)


class BookingsAsked(PageAsked):
    """Filters: bookings that start in [from, to), of one student, in one standing."""

    wire = {"since": "from", "until": "to"}
    standing = serializers.ChoiceField(
        choices=[standing.value for standing in Standing], required=False
    )
    student = AskedId(required=False)
    since = InstantOrDay(required=False)
    until = InstantOrDay(required=False)


class Bookings(ApiView):
    """Bookings one may see: one's own, one's children's, those one teaches."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation("bookings", parameters=[BookingsAsked], responses=BOOKING_PAGE)
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, BookingsAsked), me(request)
        rows = seen_bookings(user)
        if "standing" in wanted:
            rows = rows.filter(standing=wanted["standing"])
        if "student" in wanted:
            rows = rows.filter(student=wanted["student"])
        if "since" in wanted:
            rows = rows.filter(starts_at__gte=as_instant(wanted["since"], user.zone))
        if "until" in wanted:
            rows = rows.filter(starts_at__lt=as_instant(wanted["until"], user.zone))
        return page(
            request,
            self,
            rows,
            ("starts_at", "id"),
            lambda found: BookingOutput.of_all(found, reader=user),
        )

    @operation(
        "book",
        headers=("ETag", "Location"),
        refused=(404, 409),
        request=BOOKING.described,
        responses={201: BookingOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = BOOKING.read(request), me(request)
        if "meeting" in sent:
            return write(request, lambda now: _book_place(user, sent, now))
        wish = _Wish(user, sent, moment(sent["starts_at"], sent.get("time_zone")))
        return write(request, wish.book, near=wish.near)


@dataclass(slots=True)
class _Wish:
    """A start that somebody asked for; what was read to book it is not read again to find times nearby."""

    user: User
    sent: dict[str, Any]
    starts_at: datetime
    student: Student = field(init=False)
    offerings: list[Offering] = field(init=False)
    seen: Found | None = field(init=False)

    def book(self, now: datetime) -> Answer:
        self.student = named_student(self.user, self.sent, now=now)
        self.offerings, self.seen = open_offerings(), None
        offering = open_offering(self.sent["offering"], self.offerings)
        ends_at = self.starts_at + timedelta(minutes=offering.minutes)
        with pointing_at("instructor"):
            instructor = teacher(self.sent["instructor"], taken_within=(self.starts_at, ends_at))
        if instructor.seems_taken and offering.is_one_on_one:  # type: ignore[attr-defined]
            self.seen = self._around(now)
        booking = book_slot(
            actor=self.user,
            student=self.student,
            offering=offering,
            instructor=instructor,
            starts_at=self.starts_at,
            intake=IntakeText(**self.sent["intake"]) if "intake" in self.sent else None,
            seen=self.seen,
            now=now,
        )
        return answer(booking, self.user, status=201)

    def near(self, now: datetime) -> list[dict[str, Any]]:
        seen = self.seen
        if seen is None or self.starts_at in {slot.starts_at for slot in seen.slots}:
            seen = self._around(now)  # what was seen as free has been taken since
        return shown_slots(seen.slots, seen.instructors, self.user.zone)

    def _around(self, now: datetime) -> Found:
        return near(
            offering=open_offering(self.sent["offering"], self.offerings),
            student=self.student,
            starts_at=self.starts_at,
            now=now,
            instructor_id=self.sent["instructor"],
            offerings=self.offerings,
        )


def _book_place(user: User, sent: dict[str, Any], now: datetime) -> Answer:
    booking = book_place(
        actor=user,
        student=named_student(user, sent, now=now),
        meeting=named_meeting(user, sent, now=now),
        place_kind=PlaceKind(sent["place_kind"]),
        now=now,
    )
    return answer(booking, user, status=201)


class OneBooking(ApiView):
    """One booking."""

    @operation("booking", headers=("ETag",), responses=BookingOutput)
    def get(self, request: Request, pk: int) -> Response:
        booking = access.access_booking(me(request), pk, now=clock.now())
        return Response(
            BookingOutput.of(booking, reader=me(request)),
            headers={"ETag": etag("booking", pk, booking.version)},
        )


class Invitation(ApiView):
    """The meeting as a calendar file, for those it is for."""

    @operation(
        "invitation",
        headers=("Content-Disposition",),
        refused=(409,),
        responses={(200, "text/calendar"): str},
    )
    def get(self, request: Request, pk: int) -> HttpResponse:
        booking = access.access_booking(me(request), pk, now=clock.now())
        if booking.standing == Standing.ENDED:
            raise Refused(
                "already-ended", "This booking has ended; there is nothing to put into a calendar."
            )
        if booking.standing == Standing.OFFERED:
            raise Refused(
                "not-yet", "Accept the offer first: until then the place is not in your calendar."
            )
        return HttpResponse(
            meeting_file(booking.meeting, me(request)),
            content_type="text/calendar; charset=utf-8",
            headers={
                "Content-Disposition": f'attachment; filename="meeting-{booking.meeting_id}.ics"'
            },
        )


def seen_bookings(user: User) -> QuerySet[Booking]:
    """The bookings a person may see, with all that showing one needs."""
    return access.bookings_of(user, now=clock.now()).select_related("intake", "mark")


def answer(booking: Booking, user: User, *, status: int = 200) -> Answer:
    """A booking just written, as it now stands."""
    fresh = seen_bookings(user).get(pk=booking.pk)
    headers = {
        **location("bookings", fresh.pk),
        "ETag": etag("booking", fresh.pk, fresh.version),
    }
    return Answer(status, BookingOutput.of(fresh, reader=user), headers)
