"""Calendars that say when an instructor or a student is busy.

Each is an https address or the text of an .ics file. Only its times are kept. An address is a
secret of another service, so no answer holds more of it than the host.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access, clock
from bookings.api.addresses import location
from bookings.api.booking_serializers import BookingOutput
from bookings.api.busy_serializers import (
    ADDED,
    BusyCalendarOutput,
    BusyChange,
    BusyList,
    PersonAsked,
)
from bookings.api.conditions import HONOURED, NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.meeting_serializers import shown_meetings
from bookings.api.named import pointing_at, whose_time
from bookings.api.operation import operation
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE
from bookings.inbound.addresses import read_address
from bookings.inbound.expanding import MOST_BYTES
from bookings.models import BusyCalendar
from bookings.operations.busy import (
    add_address,
    add_file,
    ask_again,
    remove_calendar,
    rename_calendar,
)
from bookings.operations.busy_reading import read_file
from bookings.queries.busy import Person, busy_time_of

MOST_SENT = (
    MOST_BYTES + MOST_BYTES // 2
)  # bytes of JSON: each line end of the file takes four instead of two


class BusyCalendars(ApiView):
    """One's own, or one's child's."""

    queries = {"GET"}
    bodies = {"POST"}
    throttle_scope = "busy-calendars"
    most_bytes = MOST_SENT

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        # The one call that takes more than the setting lets in: its body is read here, before
        # anything else asks for it. config.body_size has looked at its length.
        plain = request._request
        if request.method == "POST" and not hasattr(plain, "_body"):
            plain._body = plain.read(MOST_SENT)
        super().initial(request, *args, **kwargs)

    @operation(
        "busy_calendars",
        scope=PEOPLE,
        refused=(403, 404),
        parameters=[PersonAsked],
        responses=BusyList,
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, PersonAsked), me(request)
        if user.is_staff and "instructor" in wanted:
            instructor = whose_time(user, wanted)
            if instructor.user_id != user.pk:
                return Response(_listed(request, instructor, with_calendars=False))
        return Response(_listed(request, _named_person(user, wanted)))

    @operation(
        "add_busy_calendar",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(404,),
        request=ADDED.described,
        responses={201: BusyCalendarOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = ADDED.read(request), me(request)
        person = _named_person(user, sent)
        if "address" in sent:
            address = read_address(sent["address"])
            return answered(
                request,
                lambda now: _added(
                    add_address(
                        actor=user,
                        person=person,
                        name=sent["name"],
                        address=address.text,
                        host=address.host,
                        now=now,
                    )
                ),
            )
        copy = read_file(
            sent["calendar"].encode(errors="replace"), person, clock.now(), actor=user
        )  # before the transaction: it takes a process and its time
        return answered(
            request,
            lambda now: _added(
                add_file(actor=user, person=person, name=sent["name"], copy=copy, now=now)
            ),
        )


class OneBusyCalendar(ApiView):
    """One calendar."""

    bodies = {"PATCH"}
    if_match = {"PATCH": NEEDED, "DELETE": NEEDED}

    @operation("busy_calendar", scope=PEOPLE, headers=("ETag",), responses=BusyCalendarOutput)
    def get(self, request: Request, pk: int) -> Response:
        calendar = access.access_busy_calendar(me(request), pk, now=clock.now())
        return Response(BusyCalendarOutput.of(calendar), headers=_tag(calendar))

    @operation(
        "rename_busy_calendar",
        scope=PEOPLE,
        headers=("ETag",),
        request=BusyChange,
        responses=BusyCalendarOutput,
    )
    def patch(self, request: Request, pk: int) -> HttpResponseBase:
        sent = body(request, BusyChange)

        def act(now: datetime) -> Result:
            calendar, version = _own(request, pk)
            renamed = rename_calendar(
                actor=me(request), calendar=calendar, name=sent["name"], version=version, now=now
            )
            return Result(200, BusyCalendarOutput.of(renamed), _tag(renamed))

        return answered(request, act)

    @operation("remove_busy_calendar", scope=PEOPLE, responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            calendar, version = _own(request, pk)
            remove_calendar(actor=me(request), calendar=calendar, version=version, now=now)
            return Result(204)

        return answered(request, act)


class RefreshingBusyCalendar(ApiView):
    """Fetches the calendar within a minute or so.

    If-Match is honoured and not needed: fetching changes nothing that anybody has read.
    """

    if_match = {"POST": HONOURED}
    throttle_scope = "busy-calendars"

    @operation(
        "refresh_busy_calendar",
        scope=PEOPLE,
        headers=("ETag",),
        request=None,
        responses=BusyCalendarOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            calendar, version = _own(request, pk)
            asked_for = ask_again(actor=me(request), calendar=calendar, version=version, now=now)
            return Result(200, BusyCalendarOutput.of(asked_for), _tag(asked_for))

        return answered(request, act)


def _named_person(user: User, sent: Mapping[str, Any]) -> Person:
    """Whose busy time `sent` is about."""
    with pointing_at("student" if "student" in sent else "instructor"):
        return access.access_busy_person(
            user,
            student_id=sent.get("student"),
            instructor_id=sent.get("instructor"),
            now=clock.now(),
        )


def _own(request: Request, pk: int) -> tuple[BusyCalendar, int | None]:
    """The caller's calendar and the version that If-Match names."""
    calendar = access.access_busy_calendar(me(request), pk, now=clock.now())
    return calendar, version_asked(request, "busy-calendar", pk, calendar.version)


def _listed(request: Request, person: Person, *, with_calendars: bool = True) -> dict[str, Any]:
    user = me(request)
    found = busy_time_of(person, with_calendars=with_calendars, now=clock.now())
    return {
        "results": BusyCalendarOutput.of_all(found.calendars),
        "clashing_meetings": shown_meetings(found.meetings, user),
        "clashing_bookings": BookingOutput.of_all(found.bookings, reader=user),
    }


def _added(calendar: BusyCalendar) -> Result:
    return Result(
        201,
        BusyCalendarOutput.of(calendar),
        {**location("busy-calendars", calendar.pk), **_tag(calendar)},
    )


def _tag(calendar: BusyCalendar) -> dict[str, str]:
    return {"ETag": etag("busy-calendar", calendar.pk, calendar.version)}
