"""Retention of messages, feeds, readings and reasons."""

from datetime import datetime
from typing import Final

from django.db.models import Q

from bookings.models import (
    AssessmentReading,
    AuditReason,
    BusyPeriod,
    DataReading,
    Feed,
    KeptAnswer,
    LastAnswer,
    OutboxMessage,
    OutboxQuerySet,
    SentSequence,
    WebhookAttempt,
)
from bookings.queries.retention.kind import Kind


def _done(until: datetime) -> OutboxQuerySet:
    """Messages that left, were given up or withdrawn, by when they were due."""
    rows = OutboxMessage.objects.exclude(state=OutboxMessage.State.DUE)
    return rows.filter(Q(sent_at__lte=until) | Q(sent_at__isnull=True, due_at__lte=until))


RECORDS: Final = (
    Kind(
        code="email-texts",
        model="bookings.OutboxMessage",
        title="Texts of emails",
        since="the email",
        setting="EMAIL_TEXT_DAYS",
        began="due_at",
        rows=lambda until: _done(until).exclude(body="", calendar=""),
        empties=("body", "calendar"),
    ),
    Kind(
        code="email-addresses",
        model="bookings.OutboxMessage",
        title="Addresses and titles of emails",
        since="the email",
        setting="EMAIL_ADDRESS_DAYS",
        began="due_at",
        rows=lambda until: _done(until).exclude(to_address="", title=""),
        empties=("to_address", "title"),
    ),
    Kind(
        code="sequences",
        model="bookings.SentSequence",
        title="Which version of a meeting was sent to each calendar",
        since="the meeting",
        setting="CALENDAR_TRACE_DAYS",
        began="meeting__ends_at",
        rows=lambda until: SentSequence.objects.filter(meeting__ends_at__lte=until),
    ),
    Kind(
        code="calendar-answers",
        model="bookings.LastAnswer",
        title="When each calendar last answered",
        since="the meeting",
        setting="CALENDAR_TRACE_DAYS",
        began="meeting__ends_at",
        rows=lambda until: LastAnswer.objects.filter(meeting__ends_at__lte=until),
    ),
    Kind(
        code="feeds",
        model="bookings.Feed",
        title="Calendar addresses that were revoked",
        since="the day they were revoked",
        setting="FEED_DAYS",
        began="revoked_at",
        rows=lambda until: Feed.objects.filter(revoked_at__lte=until),
    ),
    Kind(
        code="busy",
        model="bookings.BusyPeriod",
        title="Busy times from other calendars",
        since="their end",
        setting="BUSY_PAST_DAYS",
        began="ends_at",
        rows=lambda until: BusyPeriod.objects.filter(ends_at__lte=until),
    ),
    Kind(
        code="kept-answers",
        model="bookings.KeptAnswer",
        title="Answers kept in case a program asks twice",
        since="the answer",
        days=1,
        began="made_at",
        rows=lambda until: KeptAnswer.objects.filter(made_at__lte=until),
    ),
    Kind(
        code="deliveries",
        model="bookings.WebhookAttempt",
        title="Record of messages to other programs",
        since="the attempt",
        setting="DELIVERY_LOG_DAYS",
        began="at",
        rows=lambda until: WebhookAttempt.objects.filter(at__lte=until),
    ),
    Kind(
        code="note-readings",
        model="bookings.AssessmentReading",
        title="Who read which note",
        since="the reading",
        setting="READING_DAYS",
        began="read_at",
        rows=lambda until: AssessmentReading.objects.filter(read_at__lte=until),
    ),
    Kind(
        code="data-readings",
        model="bookings.DataReading",
        title="Who read what hurts, and who exported data",
        since="the reading",
        setting="READING_DAYS",
        began="first_at",
        rows=lambda until: DataReading.objects.filter(first_at__lte=until),
    ),
    Kind(
        code="reasons",
        model="bookings.AuditReason",
        title="Reasons that admins gave",
        since="the act",
        setting="REASON_DAYS",
        began="row__at",
        rows=lambda until: AuditReason.objects.filter(row__at__lte=until),
    ),
)
