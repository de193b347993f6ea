"""Retention of what belongs to people: of students who have left, and of signing in."""

from datetime import datetime
from typing import Final

from django.apps import apps
from django.contrib.sessions.models import Session
from django.db.models import Exists, OuterRef, Q, QuerySet

from accounts.models import AddressChange, Student, Welcome
from accounts.sessions import tokens
from bookings.models import (
    Assessment,
    AuditRow,
    Booking,
    BusyCalendar,
    CarriedBurden,
    StudentWeek,
)
from bookings.queries.retention.kind import Kind


def left_by(until: datetime) -> QuerySet[Student]:
    """Students who have left and about whom nothing has happened since.

    No lesson of theirs ended later, and nobody acted on their record later.
    """
    lessons = Booking.objects.filter(student=OuterRef("pk"), ends_at__gt=until)
    acts = AuditRow.objects.filter(thing="student", thing_id=OuterRef("pk"), at__gt=until)
    rows = Student.objects.filter(~Exists(lessons.order_by()), ~Exists(acts.order_by()))
    return rows.filter(is_active=False).order_by()


def _calendars(until: datetime) -> QuerySet[BusyCalendar]:
    """Those of a student who also teaches stay: the times of their lessons come from them."""
    left = left_by(until)
    own = Q(owner__student__in=left, owner__instructor__isnull=True)
    return BusyCalendar.objects.filter(Q(student__in=left) | own)


_LEFT = "their last lesson and the last change to their record"

PEOPLE: Final = (
    Kind(
        code="notes-of-leavers",
        model="bookings.Assessment",
        title="Notes about students who have left",
        since=_LEFT,
        setting="LEAVER_DAYS",
        began="written_at",
        rows=lambda until: Assessment.objects.filter(student__in=left_by(until)),
        named_by="assessment",
    ),
    Kind(
        code="weeks-of-leavers",
        model="bookings.StudentWeek",
        title="Hours of students who have left",
        since=_LEFT,
        setting="LEAVER_DAYS",
        began="changed_at",
        rows=lambda until: StudentWeek.objects.filter(student__in=left_by(until)),
    ),
    Kind(
        code="calendars-of-leavers",
        model="bookings.BusyCalendar",
        title="Busy calendars of students who have left",
        since=_LEFT,
        setting="LEAVER_DAYS",
        began="added_at",
        rows=_calendars,
    ),
    Kind(
        code="burdens-of-leavers",
        model="bookings.CarriedBurden",
        title="How inconvenient group hours were for students who have left",
        since=_LEFT,
        setting="LEAVER_DAYS",
        rows=lambda until: CarriedBurden.objects.filter(student__in=left_by(until)),
    ),
    Kind(
        code="address-changes",
        model="accounts.AddressChange",
        title="New addresses that were asked for",
        since="the last day to confirm them",
        setting="INVITATION_DAYS",
        began="good_until",
        rows=lambda until: AddressChange.objects.filter(good_until__lte=until),
    ),
    Kind(
        code="invitations",
        model="accounts.Welcome",
        title="Invitations that were used or have ended",
        since="their last day",
        setting="INVITATION_DAYS",
        began="good_until",
        rows=lambda until: Welcome.objects.filter(good_until__lte=until),
    ),
    Kind(
        code="sessions",
        model="sessions.Session",
        title="Sign-ins in browsers",
        since="their end",
        began="expire_date",
        rows=lambda until: Session.objects.filter(expire_date__lte=until),
        by_machine=True,
    ),
    Kind(
        code="tokens",
        model="knox.AuthToken",
        title="Tokens of programs",
        since="their end",
        began="expiry",
        rows=lambda until: tokens().filter(expiry__lte=until),
        by_machine=True,
    ),
    Kind(
        code="office-log",
        model="admin.LogEntry",
        title="Changes made in the office, with names",
        since="the change",
        setting="OFFICE_LOG_DAYS",
        began="action_time",
        rows=lambda until: apps.get_model("admin", "LogEntry").objects.filter(
            action_time__lte=until
        ),
        by_machine=True,
    ),
)
