"""Meetings, bookings and requests to move."""

from datetime import datetime
from typing import Any

from django.contrib import admin
from django.db.models import Model, QuerySet
from django.http import HttpRequest, HttpResponse

from accounts.models import User
from bookings.admin.looking import LookOnly, ask_why, each_row
from bookings.domain.errors import Refused
from bookings.domain.retiming import Clash
from bookings.models import Booking, Exchange, ExchangeMove, Meeting, MoveRequest, ProposedTimes
from bookings.operations.calling_off import call_off
from bookings.operations.places import leave_place
from bookings.operations.retiming import clear_flag

# What a zone rule did to a meeting, for the person who has to settle it.
LOOK_AT = {
    Clash.INSTRUCTOR: "its instructor has another meeting then",
    Clash.STUDENT: "a student of it has another meeting then",
    Clash.GAP: "the clock there now jumps over its hour; it stays at the instant it had",
}


@admin.register(Meeting)
class MeetingAdmin(LookOnly):
    list_display = [
        "starts_at",
        "offering",
        "title",
        "instructor",
        "status",
        "taken",
        "places",
        "to_look_at",
    ]
    list_filter = ["is_flagged", "status", "offering"]
    list_select_related = ["offering", "instructor__user"]
    search_fields = ["title", "instructor__user__name"]
    date_hierarchy = "starts_at"
    exclude = ["join_address"]
    actions = ["call_off_meetings", "clear_flags"]

    @admin.display(description="to look at", ordering="-is_flagged")
    def to_look_at(self, meeting: Meeting) -> str:
        return (
            "; ".join(LOOK_AT[Clash(why)] for why in meeting.flagged_why.split())
            if meeting.is_flagged
            else ""
        )

    @admin.action(description="Clear the flag, once one of the two has moved", permissions=["view"])
    def clear_flags(self, request: HttpRequest, rows: QuerySet[Meeting]) -> None:
        each_row(
            request,
            rows,
            lambda meeting, actor, now: clear_flag(actor=actor, meeting=meeting, now=now),
            "Flags cleared",
        )

    @admin.action(description="Call off", permissions=["view"])
    def call_off_meetings(
        self, request: HttpRequest, rows: QuerySet[Meeting]
    ) -> HttpResponse | None:
        why = ask_why(request, rows, "Call off", "call_off_meetings")
        if not isinstance(why, str):
            return why
        each_row(
            request,
            rows,
            lambda meeting, actor, now: call_off(actor=actor, meeting=meeting, why=why, now=now),
            "Called off",
        )
        return None


@admin.register(Booking)
class BookingAdmin(LookOnly):
    list_display = ["starts_at", "student", "meeting", "place_kind", "standing", "ended_why"]
    list_filter = ["standing", "place_kind", "ended_why"]
    list_select_related = ["student__user", "meeting__offering"]
    search_fields = ["student__user__name", "student__own_name"]
    exclude = ["assessment"]
    actions = ["remove_from_roster"]

    @admin.action(description="Remove from the roster", permissions=["view"])
    def remove_from_roster(
        self, request: HttpRequest, rows: QuerySet[Booking]
    ) -> HttpResponse | None:
        why = ask_why(request, rows, "Remove from the roster", "remove_from_roster")
        if not isinstance(why, str):
            return why
        each_row(
            request,
            rows.select_related("meeting__offering"),
            lambda booking, actor, now: _remove(booking, actor, now, why),
            "Removed",
        )
        return None


def _remove(booking: Booking, actor: User, now: datetime, why: str) -> Model:
    if booking.meeting.offering.is_one_on_one:
        raise Refused(
            "wrong-kind", "Call the meeting off: a one-on-one has no roster without its student."
        )
    return leave_place(actor=actor, booking=booking, reason=why, now=now)


@admin.register(MoveRequest)
class MoveRequestAdmin(LookOnly):
    """Answered on the page for it, by the instructor or an admin."""

    list_display = ["asked_at", "booking", "starts_at", "asked_by", "state", "answered_at"]
    list_filter = ["state"]
    list_select_related = ["booking__student__user", "booking__meeting__offering", "asked_by"]


@admin.register(ProposedTimes)
class ProposedTimesAdmin(LookOnly):
    """What is proposed to whom. The times themselves are bookings and meetings."""

    list_display = ["student", "offering", "instructor", "made_at", "answer_by", "ended_why"]
    list_filter = ["ended_why"]
    list_select_related = ["student__user", "offering", "instructor__user"]


class ExchangeMoveInline(admin.TabularInline):
    """What each family of an exchange is asked, and when it said yes."""

    model = ExchangeMove
    extra = 0
    can_delete = False

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def get_queryset(self, request: HttpRequest) -> QuerySet[ExchangeMove]:
        people = ("offering", "student__user")
        joined = [f"{place}__{of}" for place in ("place", "takes") for of in people]
        return super().get_queryset(request).select_related(*joined)


@admin.register(Exchange)
class ExchangeAdmin(LookOnly):
    """Exchanges of weekly places: families answer them."""

    list_display = ["term", "answer_by", "ended_at", "ended_why"]
    list_filter = ["ended_why"]
    list_select_related = ["term"]
    inlines = [ExchangeMoveInline]
