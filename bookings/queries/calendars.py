"""A person's calendars: their feed, and one meeting as a file."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from django.conf import settings
from django.db.models import Max, Q

from accounts.models import Instructor, User, digest
from bookings.access import own_students, students_near
from bookings.calendars.events import CalendarEvent
from bookings.calendars.feeds import feed, free_busy_file
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
"""Raise it with every change to the form of a feed's bytes: bytes stored before are then no longer
served.
"""


@dataclass(frozen=True, slots=True)
class FeedWindow:
    """The meetings that a feed shows on one date (UTC): those that start in [first, last)."""

    on: date

    @property
    def begins(self) -> datetime:
        """The instant from which the feed shows this window: midnight UTC."""
        return datetime.combine(self.on, time(), UTC)

    @property
    def first(self) -> datetime:
        return self.begins - BACK

    @property
    def last(self) -> datetime:
        return self.begins + AHEAD


def open_feed_of(secret: str) -> Feed | None:
    """The feed at that secret address, with its meeting or instructor; one query.

    None for an unknown or revoked address, for a deactivated owner, for a roster whose owner is no
    admin, and for an instructor's taken times whose owner is neither that instructor nor an admin.
    """
    rows = Feed.objects.select_related(
        "owner", "meeting__offering", "meeting__instructor__user", "instructor__user"
    )
    working = rows.not_revoked().filter(owner__is_active=True)
    found = working.filter(secret_digest=digest(secret)).first()
    if found is None or found.owner.is_staff or found.kind == FeedKind.MEETINGS:
        return found
    instructor = found.instructor
    if instructor is None or not instructor.is_active or instructor.user != found.owner:
        return None
    return found


@dataclass(frozen=True, slots=True)
class FeedState:
    """All that a feed's bytes depend on, as one string, and the instant of its last change.

    The instant is None if it is not stored.
    """

    text: str
    since: datetime | None


def state_of(found: Feed, *, now: datetime) -> FeedState:
    """The state of a feed. One query for a feed of the owner's meetings, none for the other kinds.

    The query asks whom the owner answers for now: a birthday, an account of the child's own and a
    removed guardian change the feed although nobody writes to it.
    """
    window = FeedWindow(now.astimezone(UTC).date())
    parts = [found.pk, found.revision, window.on, found.owner.zone, TZDATA_VERSION, FORMAT]
    if found.meeting is not None:  # the meeting's version changes with it, and has no date
        return FeedState(":".join(map(str, [*parts, found.meeting.version])), None)
    since = max(found.revised_at, window.begins)
    if found.kind == FeedKind.MEETINGS:
        people = sorted(students_near(found.owner), key=lambda row: row.pk)
        parts += [row.pk for row in people if is_answered_for(row, now)]
        # Only a child with an account leaves a guardian's calendar by growing up.
        birthdays = (grown_at(row) for row in people if row.user_id not in (None, found.owner_id))
        since = max([since, *(at for at in birthdays if at is not None and at <= now)])
    return FeedState(":".join(map(str, parts)), since)


def feed_bytes(found: Feed, *, now: datetime) -> bytes:
    """The feed as a calendar file; the same bytes for the same `state_of`."""
    window = FeedWindow(now.astimezone(UTC).date())
    if found.instructor is not None:
        return _free_busy_bytes(found, found.instructor, window)
    name = settings.SCHOOL_NAME
    if found.meeting is None:
        events = events_for(found.owner, now=now, names_children=found.names_children)
    else:
        name = f"{name}: {found.meeting.title or found.meeting.offering.name}"
        events = [_counted(found.meeting, found.owner)]
    return feed(name, found.owner.zone, events, window.first, window.last)


def _counted(meeting: Meeting, admin: User) -> CalendarEvent:
    """One meeting with the number of people in it.

    Their names need a sign-in, since a secret address spreads.
    """
    event = event_of(meeting, admin, sequence=meeting.sequence, stamp=meeting.changed_at)
    words = [f"Players: {meeting.taken} of {meeting.places}."]
    if meeting.listener_places:
        words.append(f"Listeners: {meeting.listeners_taken} of {meeting.listener_places}.")
    words.append(f"Who is in: {link(f'/meetings/{meeting.pk}/')}")
    return replace(event, description=" ".join(words))


def _free_busy_bytes(found: Feed, instructor: Instructor, window: FeedWindow) -> bytes:
    live = Meeting.objects.holding_time().taught_by(instructor)
    rows = live.filter(starts_at__lt=window.last, held_until__gt=window.first).order_by("starts_at")
    return free_busy_file(
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
    """One meeting as a file for a person who is in it or teaches it."""
    rows = SentSequence.objects.filter(meeting=meeting, recipient=reader)
    last = rows.aggregate(last=Max("sequence"))["last"] or 0
    event = event_of(
        meeting, reader, sequence=max(meeting.sequence, last), stamp=meeting.changed_at
    )
    return download(event, organizer(meeting, reader.pk))


def events_for(user: User, *, now: datetime, names_children: bool = False) -> list[CalendarEvent]:
    """The meetings that the user teaches, and those that they or minors they answer for are in.

    From 30 days ago to a year ahead, counted from midnight UTC, so that a day's feed is stable. A
    meeting that is off, or that all of them have left, is CANCELLED until a week after its start,
    so that no calendar keeps it; then it is left out. With `names_children`, the first names of the
    minors stand before their meetings.
    """
    window = FeedWindow(now.astimezone(UTC).date())
    in_window = Q(starts_at__gte=window.first, starts_at__lt=window.last)
    taught = (
        Meeting.objects.not_proposed()
        .filter(in_window, instructor__user=user, instructor__is_active=True)
        .prefetch_related("offering", "instructor__user")
    )
    shown = {meeting.pk: _Shown(meeting, not meeting.is_cancelled) for meeting in taught}
    for booking in _bookings(user, in_window, now):
        meeting = booking.meeting
        is_held = booking.standing == Standing.HELD
        stands = is_held and not meeting.is_cancelled
        before = shown.get(meeting.pk)
        if before is None or (stands and not before.stands):
            shown[meeting.pk] = _Shown(meeting, stands, booking.ended_at)
            if before is not None:
                shown[meeting.pk].named |= before.named
        if names_children and is_held and booking.student.user_id != user.pk:
            shown[meeting.pk].named.add(booking.student.first_name)
    rows = SentSequence.objects.filter(recipient=user, meeting__in=list(shown))
    sequences = dict(rows.values_list("meeting_id", "sequence"))
    return [
        one.event(user, sequences.get(pk, 0))
        for pk, one in shown.items()
        if one.stands or one.meeting.starts_at + SHOWN_CANCELLED >= window.begins
    ]


class _Shown:
    """A meeting in somebody's feed.

    It stands if they, or anyone they answer for, are still in it.
    """

    def __init__(self, meeting: Meeting, stands: bool, left_at: datetime | None = None) -> None:
        self.meeting = meeting
        self.stands = stands
        self.named: set[str] = set()
        self._stamp = max(meeting.changed_at, left_at or meeting.changed_at)

    def event(self, reader: User, sent: int) -> CalendarEvent:
        """The event; `sent` is the highest SEQUENCE in an invitation to the reader."""
        meeting = self.meeting
        event = event_of(
            meeting,
            reader,
            sequence=max(meeting.sequence, sent),
            stamp=self._stamp,
            status=meeting.status if self.stands else MeetingStatus.CANCELLED,
        )
        if not self.named:
            return event
        return replace(event, summary=f"{', '.join(sorted(self.named))}: {event.summary}")


def _bookings(user: User, in_window: Q, now: datetime) -> Iterable[Booking]:
    """HELD and ENDED bookings of the user and of those they answer for, the newest last.

    Places that were only offered are left out.
    """
    rows = Booking.objects.filter(
        in_window,
        student__in=own_students(user, now=now),
        standing__in=[Standing.HELD, Standing.ENDED],
        answer_by__isnull=True,
    )
    # Few offerings and instructors have many meetings: each is read once, not joined to every row.
    return (
        rows.select_related("meeting", "student__user")
        .prefetch_related("meeting__offering", "meeting__instructor__user")
        .order_by("pk")
    )
