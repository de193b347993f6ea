"""Bookings: list, read, book, and the meeting as a calendar file."""

from datetime import datetime
from functools import partial
from typing import Any

from django.db.models import QuerySet
from django.http import HttpResponse, HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access, clock
from bookings.api.addresses import location
from bookings.api.booking_serializers import BOOKING, BOOKING_PAGE, BookingOutput, BookingsAsked
from bookings.api.conditions import etag
from bookings.api.door import Result, answered
from bookings.api.named import (
    named_meeting,
    named_owed_lesson,
    named_student,
    named_student_to_book,
    open_offering,
    pointing_at,
)
from bookings.api.operation import operation
from bookings.api.paging import page
from bookings.api.slot_serializers import shown_slots
from bookings.api.slots import near_start
from bookings.api.time_fields import start_instant
from bookings.api.views import ApiView, asked, me
from bookings.domain.errors import Refused
from bookings.domain.scopes import Scope
from bookings.domain.vocabulary import PlaceKind, Standing
from bookings.models import Booking
from bookings.operations.first_look import book_start
from bookings.operations.intakes import IntakeText
from bookings.operations.places import book_place
from bookings.queries.calendars import meeting_file
from bookings.queries.slots import StartRefused


class Bookings(ApiView):
    """Bookings one may see: one's own, one's children's, those one teaches."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "bookings", scope=Scope.READ_CALENDAR, parameters=[BookingsAsked], responses=BOOKING_PAGE
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, BookingsAsked), me(request)
        rows = BookingsAsked.narrowed(seen_bookings(user), wanted, user)
        shown = partial(BookingOutput.of_all, reader=user)
        return page(request, BookingsAsked, rows, shown)

    @operation(
        "book",
        scope=Scope.WRITE_BOOKINGS,
        headers=("ETag", "Location"),
        refused=(404, 409),
        request=BOOKING.described,
        responses={201: BookingOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = BOOKING.read(request), me(request)
        if "meeting" in sent:
            return answered(request, lambda now: _book_place(user, sent, now))
        starts_at = start_instant(sent["starts_at"], sent.get("time_zone"))
        return answered(
            request,
            lambda now: _book_start(user, sent, starts_at, now),
            near=lambda refusal, now: _near(user, sent, starts_at, refusal, now),
        )


def _book_start(user: User, sent: dict[str, Any], starts_at: datetime, now: datetime) -> Result:
    student, offering = named_student_to_book(user, sent, now=now), open_offering(sent["offering"])
    owed = named_owed_lesson(user, sent, now=now) if "owed_lesson" in sent else None
    with pointing_at("instructor"):
        booking = book_start(
            actor=user,
            student=student,
            offering=offering,
            instructor_id=sent["instructor"],
            starts_at=starts_at,
            intake=IntakeText(**sent["intake"]) if "intake" in sent else None,
            owed=owed,
            now=now,
        )
    return booking_result(booking, user, status=201)


def _near(
    user: User, sent: dict[str, Any], starts_at: datetime, refusal: Refused, now: datetime
) -> list[dict[str, Any]]:
    """Three starts nearby; they come with a refusal that was judged among them."""
    if isinstance(refusal, StartRefused):
        around = refusal.around
        return shown_slots(around.slots, around.instructors, user.zone, now=now)
    owed = named_owed_lesson(user, sent, now=now) if "owed_lesson" in sent else None
    return near_start(
        open_offering(sent["offering"]),
        named_student_to_book(user, sent, now=now),
        starts_at,
        now=now,
        instructor_id=sent["instructor"],
        use_by=owed.use_by if owed is not None else None,
        user=user,
    )


def _book_place(user: User, sent: dict[str, Any], now: datetime) -> Result:
    booking = book_place(
        actor=user,
        student=named_student(user, sent, now=now),
        meeting=named_meeting(user, sent, now=now),
        place_kind=PlaceKind(sent["place_kind"]),
        now=now,
    )
    return booking_result(booking, user, status=201)


class OneBooking(ApiView):
    """One booking."""

    @operation("booking", scope=Scope.READ_CALENDAR, headers=("ETag",), responses=BookingOutput)
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
        scope=Scope.READ_CALENDAR,
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


def booking_result(booking: Booking, user: User, *, status: int = 200) -> Result:
    """A booking just written, as it now stands."""
    fresh = seen_bookings(user).get(pk=booking.pk)
    headers = {
        **location("bookings", fresh.pk),
        "ETag": etag("booking", fresh.pk, fresh.version),
    }
    return Result(status, BookingOutput.of(fresh, reader=user), headers)
