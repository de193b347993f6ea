"""What a person's calendars show: her feed, and one meeting as a file."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from django.conf import settings
from django.db.models import Max, Q

from accounts.models import Student, User, digest
from bookings.calendars.events import CalendarEvent
from bookings.calendars.feeds import feed
from bookings.calendars.invitations import download
from bookings.domain.vocabulary import MeetingStatus, Standing
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import Booking, Feed, Meeting, SentSequence
from bookings.notices.people import is_answered_for
from bookings.notices.rows import event_of
from bookings.outbox.mailboxes import organizer

BACK, AHEAD = timedelta(days=30), timedelta(days=365)
SHOWN_CANCELLED = timedelta(days=7)
FORMAT = 1
"""Raise it with every change to the shape of a feed's bytes, so that no kept ones are served for new ones."""


@dataclass(frozen=True, slots=True)
class Window:
    """What a feed shows on one date (UTC): meetings that start in [first, last)."""

    on: date

    @property
    def begins(self) -> datetime:
        """The instant from which this is the window: midnight UTC."""
        return datetime.combine(self.on, time(), UTC)

    @property
    def first(self) -> datetime:
        return self.begins - BACK

    @property
    def last(self) -> datetime:
        return self.begins + AHEAD


def open_feed_of(secret: str) -> Feed | None:
    """The feed at that secret address, with its owner; None for one unknown, revoked or of a deactivated person. One query."""
    open_feeds = Feed.objects.select_related("owner").filter(revoked_at__isnull=True, owner__is_active=True)
    return open_feeds.filter(secret_digest=digest(secret)).first()


def state_of(found: Feed, *, now: datetime) -> str:
    """Everything that the feed's bytes depend on, in one string; no query."""
    return f"{found.pk}:{found.revision}:{now.astimezone(UTC).date()}:{found.owner.zone}:{TZDATA_VERSION}:{FORMAT}"


def feed_bytes(found: Feed, *, now: datetime) -> bytes:
    """The feed as a calendar file; the same bytes for the same `state_of`."""
    window = Window(now.astimezone(UTC).date())
    return feed(settings.SCHOOL_NAME, found.owner.zone, events_for(found.owner, now=now), window.first, window.last)


def meeting_file(meeting: Meeting, reader: User) -> bytes:
    """One meeting as a file for somebody who is in it or teaches it."""
    last = SentSequence.objects.filter(meeting=meeting, recipient=reader).aggregate(last=Max("sequence"))["last"] or 0
    return download(event_of(meeting, reader, sequence=max(meeting.sequence, last), stamp=meeting.changed_at), organizer(meeting.pk, reader.pk))


def events_for(user: User, *, now: datetime) -> list[CalendarEvent]:
    """What she teaches, and what she and the minors she answers for hold, from 30 days ago to a year ahead.

    A meeting that is off, or that her people have left, is CANCELLED until a week after its start, so that no calendar
    keeps it as if it stood; then it is gone. The dates count from midnight UTC, so a day's feed is stable.
    """
    window = Window(now.astimezone(UTC).date())
    in_window = Q(starts_at__gte=window.first, starts_at__lt=window.last)
    taught = Meeting.objects.filter(in_window, instructor__user=user, instructor__is_active=True).prefetch_related(
        "offering", "instructor__user"
    )
    shown: dict[int, tuple[Meeting, bool, datetime]] = {
        meeting.pk: (meeting, not meeting.is_cancelled, meeting.changed_at) for meeting in taught
    }
    for booking in _bookings(user, in_window, now):
        meeting = booking.meeting
        stands = booking.standing == Standing.HELD and not meeting.is_cancelled
        before = shown.get(meeting.pk)
        if before is None or (stands and not before[1]):
            shown[meeting.pk] = (meeting, stands, max(meeting.changed_at, booking.ended_at or meeting.changed_at))
    sequences = dict(SentSequence.objects.filter(recipient=user, meeting__in=list(shown)).values_list("meeting_id", "sequence"))
    events = []
    for meeting, stands, stamp in shown.values():
        if not stands and meeting.starts_at + SHOWN_CANCELLED < window.begins:
            continue
        sequence = max(meeting.sequence, sequences.get(meeting.pk, 0))
        status = meeting.status if stands else MeetingStatus.CANCELLED
        events.append(event_of(meeting, user, sequence=sequence, stamp=stamp, status=status))
    return events


def _bookings(user: User, in_window: Q, now: datetime) -> Iterable[Booking]:
    """HELD and ENDED bookings of hers, the newest last; never one that was only offered."""
    students = Student.objects.filter(Q(user=user) | Q(guardians=user)).distinct().select_related("user")
    hers = [student.pk for student in students if student.user_id == user.pk or is_answered_for(student, now)]
    rows = Booking.objects.filter(in_window, student__in=hers, standing__in=[Standing.HELD, Standing.ENDED], answer_by__isnull=True)
    # Few offerings and instructors stand behind many meetings: each is read once, not joined to every row.
    return rows.select_related("meeting").prefetch_related("meeting__offering", "meeting__instructor__user").order_by("pk")
