"""The office: what an admin sees of the tables. Meetings, bookings, messages and feeds change by operations only."""

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any, cast

from django.contrib import admin, messages
from django.db.models import Model, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from accounts.models import User
from bookings import clock
from bookings.domain.errors import Refused
from bookings.domain.retiming import Clash
from bookings.door import write
from bookings.models import (
    AuditRow,
    Booking,
    Feed,
    IgnoredMail,
    Meeting,
    MoveRequest,
    Offering,
    OutboxMessage,
    StudioPolicy,
    Teaches,
    TeachingHours,
    TeachingWeek,
)
from bookings.operations.calling_off import call_off
from bookings.operations.places import leave_place
from bookings.operations.resending import send_again
from bookings.operations.retiming import clear_flag
from bookings.operations.subscriptions import revoke_feed
from bookings.queries.policies import newest_policy

# What a zone rule did to a meeting, for the person who has to settle it.
LOOK_AT = {
    Clash.INSTRUCTOR: "its instructor has another meeting then",
    Clash.STUDENT: "a student of it has another meeting then",
    Clash.GAP: "the clock there now jumps over its hour; it stays at the instant it had",
}


class LookOnly(admin.ModelAdmin):
    """Rows to read; what changes them is an action that calls an operation."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


def _each(
    request: HttpRequest,
    rows: Iterable[Any],
    act: Callable[[Any, User, datetime], object],
    done: str,
) -> None:
    """One operation a row, each in a transaction of its own; a refusal is told and the others go on."""
    count = 0
    for row in rows:
        now = clock.now()
        try:
            write(lambda row=row, now=now: act(row, cast(User, request.user), now), now=now)  # type: ignore[misc]
        except Refused as refusal:
            messages.error(request, f"{row}: {refusal.detail}")
        else:
            count += 1
    if count:
        messages.success(request, f"{done}: {count}.")


def _ask_why(
    request: HttpRequest, rows: QuerySet[Any], title: str, action: str
) -> str | HttpResponse:
    """The sentence typed on the page between, or that page."""
    why = request.POST.get("why", "").strip()[:200]
    if why:
        return why
    return render(
        request,
        "levare/office_why.html",
        {**admin.site.each_context(request), "title": title, "rows": rows, "action": action},
    )


class TeachesInline(admin.TabularInline):
    model = Teaches
    extra = 0

    def get_queryset(self, request: HttpRequest) -> QuerySet[Teaches]:
        return super().get_queryset(request).select_related("instructor__user", "offering")

    def formfield_for_foreignkey(self, db_field: Any, request: HttpRequest, **options: Any) -> Any:
        """The instructors to choose from, read once for all rows."""
        field: Any = super().formfield_for_foreignkey(db_field, request, **options)
        if db_field.name == "instructor":
            field.queryset = field.queryset.select_related("user")
            field.choices = list(field.choices)
        return field


@admin.register(Offering)
class OfferingAdmin(admin.ModelAdmin):
    list_display = ["name", "kind", "minutes", "is_open"]
    list_filter = ["kind", "is_open"]
    search_fields = ["name"]
    inlines = [TeachesInline]

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(StudioPolicy)
class StudioPolicyAdmin(LookOnly):
    """A change of the rules is a new version; the old ones ride on with the bookings made under them."""

    list_display = [
        "version",
        "in_force_from",
        "lead_time_minutes",
        "horizon_days",
        "notice_minutes",
    ]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_staff)

    def get_changeform_initial_data(self, request: HttpRequest) -> dict[str, Any]:
        newest = newest_policy()
        rules = {name: getattr(newest, name) for name in newest.rules().__slots__} if newest else {}
        return {
            **rules,
            "version": newest.version + 1 if newest else 1,
            "in_force_from": clock.now(),
        }


class HoursInline(admin.TabularInline):
    model = TeachingHours
    can_delete = False
    extra = 0


@admin.register(TeachingWeek)
class TeachingWeekAdmin(LookOnly):
    list_display = ["instructor", "time_zone", "version", "changed_at"]
    list_select_related = ["instructor__user"]
    inlines = [HoursInline]


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
        _each(
            request,
            rows,
            lambda meeting, actor, now: clear_flag(actor=actor, meeting=meeting, now=now),
            "Flags cleared",
        )

    @admin.action(description="Call off", permissions=["view"])
    def call_off_meetings(
        self, request: HttpRequest, rows: QuerySet[Meeting]
    ) -> HttpResponse | None:
        why = _ask_why(request, rows, "Call off", "call_off_meetings")
        if not isinstance(why, str):
            return why
        _each(
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
        why = _ask_why(request, rows, "Remove from the roster", "remove_from_roster")
        if not isinstance(why, str):
            return why
        _each(
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


@admin.register(OutboxMessage)
class OutboxAdmin(LookOnly):
    list_display = ["due_at", "kind", "to_address", "state", "attempts", "sent_at", "last_error"]
    list_filter = ["state", "kind"]
    search_fields = ["recipient__name"]
    exclude = ["body", "calendar", "title"]  # letters are their readers'
    actions = ["send_once_more"]

    @admin.action(description="Send again", permissions=["view"])
    def send_once_more(self, request: HttpRequest, rows: QuerySet[OutboxMessage]) -> None:
        _each(
            request,
            rows,
            lambda message, actor, now: send_again(actor=actor, message=message, now=now),
            "To be sent again",
        )


@admin.register(MoveRequest)
class MoveRequestAdmin(LookOnly):
    """Answered on the page for it, by the instructor or an admin."""

    list_display = ["asked_at", "booking", "starts_at", "asked_by", "state", "answered_at"]
    list_filter = ["state"]
    list_select_related = ["booking__student__user", "booking__meeting__offering", "asked_by"]


@admin.register(IgnoredMail)
class IgnoredMailAdmin(LookOnly):
    list_display = ["day", "reason", "count"]
    list_filter = ["reason"]
    date_hierarchy = "day"


@admin.register(Feed)
class FeedAdmin(LookOnly):
    list_display = ["label", "owner", "opened_at", "revoked_at"]
    list_select_related = ["owner"]
    search_fields = ["owner__name"]
    exclude = ["secret_digest"]
    actions = ["revoke"]

    @admin.action(description="Revoke", permissions=["view"])
    def revoke(self, request: HttpRequest, rows: QuerySet[Feed]) -> None:
        _each(
            request,
            rows,
            lambda feed, actor, now: revoke_feed(actor=actor, feed=feed, now=now),
            "Revoked",
        )


@admin.register(AuditRow)
class AuditAdmin(LookOnly):
    list_display = ["at", "actor", "verb", "thing", "thing_id", "fields", "reason"]
    list_filter = ["verb", "thing"]
    list_select_related = ["actor"]
    date_hierarchy = "at"
