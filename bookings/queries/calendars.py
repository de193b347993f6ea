"""What a person's calendars show: her feed, and one meeting as a file."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from django.conf import settings
from django.db.models import Max, Q

from accounts.models import Instructor, User, digest
from bookings.access import own_students, students_near
from bookings.calendars.events import CalendarEvent
from bookings.calendars.feeds import feed, free_busy
from bookings.calendars.invitations import download
from bookings.domain.families import grown_at, is_answered_for
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import FeedKind, MeetingStatus, Standing
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import Booking, Feed, Meeting, SentSequence
from bookings.notices.people import short_name
from bookings.notices.rows import event_of
from bookings.notices.wording import link
from bookings.outbox.mailboxes import organizer, school

BACK, AHEAD = timedelta(days=30), timedelta(days=365)
SHOWN_CANCELLED = timedelta(days=7)
FORMAT = 2
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
    """The feed at that secret address, with what it is of; None for one that is unknown, revoked or no longer the owner's to read.

    One query. A deactivated person reads nothing, a roster is for admins, and when an instructor is taken for her and admins.
    """
    rows = Feed.objects.select_related(
        "owner", "meeting__offering", "meeting__instructor__user", "instructor__user"
    )
    found = rows.filter(
        revoked_at__isnull=True, owner__is_active=True, secret_digest=digest(secret)
    ).first()
    if found is None or found.owner.is_staff or found.kind == FeedKind.MEETINGS:
        return found
    return (
        found
        if found.instructor is not None
        and found.instructor.is_active
        and found.instructor.user == found.owner
        else None
    )


@dataclass(frozen=True, slots=True)
class State:
    """What a feed's bytes depend on, in one string, and the instant from which it has been so; None
    where none is kept.
    """

    text: str
    since: datetime | None


def state_of(found: Feed, *, now: datetime) -> State:
    """One query for a feed of one's own meetings, to ask whom its owner answers for now; none for
    the other kinds.

    So a birthday, an account of the child's own and a guardian removed change the feed although
    nobody writes to it.
    """
    window = Window(now.astimezone(UTC).date())
    parts = [found.pk, found.revision, window.on, found.owner.zone, TZDATA_VERSION, FORMAT]
    if found.meeting is not None:  # its version tells a change, and bears no date
        return State(":".join(map(str, [*parts, found.meeting.version])), None)
    since = max(found.revised_at, window.begins)
    if found.kind == FeedKind.MEETINGS:
        people = sorted(students_near(found.owner), key=lambda row: row.pk)
        parts += [row.pk for row in people if is_answered_for(row, now)]
        # Only a child with an account leaves a guardian's calendar by growing up.
        birthdays = (grown_at(row) for row in people if row.user_id not in (None, found.owner_id))
        since = max([since, *(at for at in birthdays if at is not None and at <= now)])
    return State(":".join(map(str, parts)), since)


def feed_bytes(found: Feed, *, now: datetime) -> bytes:
    """The feed as a calendar file; the same bytes for the same `state_of`."""
    window = Window(now.astimezone(UTC).date())
    if found.instructor is not None:
        return _free_busy_bytes(found, found.instructor, window)
    name = settings.SCHOOL_NAME
    if found.meeting is not None:
        name, events = (
            f"{name}: {found.meeting.title or found.meeting.offering.name}",
            [_counted(found.meeting, found.owner)],
        )
    else:
        events = events_for(found.owner, now=now, names_children=found.names_children)
    return feed(name, found.owner.zone, events, window.first, window.last)


def _counted(meeting: Meeting, admin: User) -> CalendarEvent:
    """One meeting with how many are in. Who they are stands behind a sign-in: an address like this gets about."""
    event = event_of(meeting, admin, sequence=meeting.sequence, stamp=meeting.changed_at)
    counted = [f"Players: {meeting.taken} of {meeting.places}."]
    counted += (
        [f"Listeners: {meeting.listeners_taken} of {meeting.listener_places}."]
        if meeting.listener_places
        else []
    )
    return replace(
        event, description=" ".join([*counted, f"Who is in: {link(f'/meetings/{meeting.pk}/')}"])
    )


def _free_busy_bytes(found: Feed, instructor: Instructor, window: Window) -> bytes:
    live = Meeting.objects.exclude(status=MeetingStatus.CANCELLED).filter(instructor=instructor)
    rows = live.filter(starts_at__lt=window.last, held_until__gt=window.first).order_by("starts_at")
    return free_busy(
        f"{settings.SCHOOL_NAME}: {short_name(instructor.user)}",
        found.owner.zone,
        [Period(*row) for row in rows.values_list("starts_at", "held_until")],
        window.first,
        window.last,
        uid=str(found.uid),
        stamp=max(found.revised_at, window.begins),
        organizer=school(),
    )


def meeting_file(meeting: Meeting, reader: User) -> bytes:
    """One meeting as a file for somebody who is in it or teaches it."""
    last = (
        SentSequence.objects.filter(meeting=meeting, recipient=reader).aggregate(
            last=Max("sequence")
        )["last"]
        or 0
    )
    event = event_of(
        meeting, reader, sequence=max(meeting.sequence, last), stamp=meeting.changed_at
    )
    return download(event, organizer(meeting, reader.pk))


def events_for(user: User, *, now: datetime, names_children: bool = False) -> list[CalendarEvent]:
    """What she teaches, and what she and the minors she answers for hold, from 30 days ago to a year ahead.

    A meeting that is off, or that her people have left, is CANCELLED until a week after its start, so that no calendar
    keeps it as if it stood; then it is gone. The dates count from midnight UTC, so a day's feed is stable. The first names of
    the minors stand before what they are in only where `names_children`.
    """
    window = Window(now.astimezone(UTC).date())
    in_window = Q(starts_at__gte=window.first, starts_at__lt=window.last)
    taught = Meeting.objects.filter(
        in_window, instructor__user=user, instructor__is_active=True
    ).prefetch_related("offering", "instructor__user")
    shown: dict[int, tuple[Meeting, bool, datetime]] = {
        meeting.pk: (meeting, not meeting.is_cancelled, meeting.changed_at) for meeting in taught
    }
    children: dict[int, set[str]] = defaultdict(set)
    for booking in _bookings(user, in_window, now):
        meeting = booking.meeting
        if (
            names_children
            and booking.student.user_id != user.pk
            and booking.standing == Standing.HELD
        ):
            children[meeting.pk].add(booking.student.first_name)
        stands = booking.standing == Standing.HELD and not meeting.is_cancelled
        before = shown.get(meeting.pk)
        if before is None or (stands and not before[1]):
            shown[meeting.pk] = (
                meeting,
                stands,
                max(meeting.changed_at, booking.ended_at or meeting.changed_at),
            )
    sequences = dict(
        SentSequence.objects.filter(recipient=user, meeting__in=list(shown)).values_list(
            "meeting_id", "sequence"
        )
    )
    events = []
    for meeting, stands, stamp in shown.values():
        if not stands and meeting.starts_at + SHOWN_CANCELLED < window.begins:
            continue
        sequence = max(meeting.sequence, sequences.get(meeting.pk, 0))
        status = meeting.status if stands else MeetingStatus.CANCELLED
        event = event_of(meeting, user, sequence=sequence, stamp=stamp, status=status)
        called = ", ".join(sorted(children[meeting.pk]))
        events.append(replace(event, summary=f"{called}: {event.summary}") if called else event)
    return events


def _bookings(user: User, in_window: Q, now: datetime) -> Iterable[Booking]:
    """HELD and ENDED bookings of hers, the newest last; never one that was only offered."""
    rows = Booking.objects.filter(
        in_window,
        student__in=own_students(user, now=now),
        standing__in=[Standing.HELD, Standing.ENDED],
        answer_by__isnull=True,
    )
    # Few offerings and instructors stand behind many meetings: each is read once, not joined to every row.
    return (
        rows.select_related("meeting", "student__user")
        .prefetch_related("meeting__offering", "meeting__instructor__user")
        .order_by("pk")
    )
