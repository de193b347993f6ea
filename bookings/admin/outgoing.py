"""What goes out: messages and feeds; what came by mail and was ignored; the audit."""

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from bookings.admin.looking import LookOnly, each_row
from bookings.models import AuditRow, Feed, IgnoredMail, OutboxMessage
from bookings.operations.resending import send_again
from bookings.operations.subscriptions import revoke_feed


@admin.register(OutboxMessage)
class OutboxAdmin(LookOnly):
    list_display = ["due_at", "kind", "to_address", "state", "attempts", "sent_at", "last_error"]
    list_filter = ["state", "kind"]
    search_fields = ["recipient__name"]
    exclude = ["body", "calendar", "title"]  # emails are their readers'
    actions = ["send_once_more"]

    @admin.action(description="Send again", permissions=["view"])
    def send_once_more(self, request: HttpRequest, rows: QuerySet[OutboxMessage]) -> None:
        each_row(
            request,
            rows,
            lambda message, actor, now: send_again(actor=actor, message=message, now=now),
            "To be sent again",
        )


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
        each_row(
            request,
            rows,
            lambda feed, actor, now: revoke_feed(actor=actor, feed=feed, now=now),
            "Revoked",
        )


@admin.register(AuditRow)
class AuditAdmin(LookOnly):
    list_display = ["at", "actor_name", "verb", "thing", "thing_id", "fields", "reason"]
    list_filter = ["verb", "thing"]
    list_select_related = ["actor", "token", "why"]
    date_hierarchy = "at"
