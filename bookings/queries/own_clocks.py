"""Readers whose clock shows another hour under new zone rules, while the meeting itself stays."""

from collections.abc import Collection, Iterator, Mapping
from datetime import datetime

from django.db.models import Q, QuerySet

from accounts.models import Guardianship, User
from bookings.domain.retiming import NOT_SHIFTED
from bookings.domain.zone_rules import ZoneRules
from bookings.domain.zones import zone
from bookings.models import Booking, KeptZoneRules, Meeting, OutboxMessage
from bookings.notices import OwnClock, SameMeeting, by_reader, own_clock_key
from bookings.outbox import MessageKind
from bookings.queries.retiming import out_of_date, shift_of


def kept_rules(versions: Collection[str]) -> dict[str, ZoneRules]:
    """The stored rules of these versions of tzdata; versions that were not stored are left out."""
    rows = KeptZoneRules.objects.filter(pk__in=versions)
    return {
        row.pk: ZoneRules(
            row.year,
            {name: [(since, by) for since, by in kept] for name, kept in row.offsets.items()},
        )
        for row in rows
    }


def versions_ahead(now: datetime) -> set[str]:
    """The versions of tzdata, other than the installed one, that derived live meetings ahead."""
    return set(out_of_date(now).order_by().values_list("tzdata_version", flat=True).distinct())


def own_clocks(
    now: datetime, *, rules: Mapping[str, ZoneRules], reader_id: int | None = None
) -> list[OwnClock]:
    """Readers for whom a meeting that stays has another hour than they were told.

    Only readers who have not been told, and only `reader_id` if given. `rules` are those of
    `versions_ahead`. Meetings that the installed rules move are left out: readers are told of the
    new hour with the move.
    """
    people = User.objects.filter(is_active=True)
    if reader_id is not None:
        people = people.filter(pk=reader_id)
    zones = {str(name) for name in people.order_by().values_list("time_zone", flat=True).distinct()}
    changed = sorted(name for name in zones if any(old.differ(name) for old in rules.values()))
    if not changed:
        return []
    people = people.filter(time_zone__in=[zone(name) for name in changed])
    told = OutboxMessage.objects.filter(
        recipient__in=people, kind=MessageKind.TOLD, subject_key=own_clock_key()
    )
    already = set(told.values_list("recipient_id", "state_key"))
    found: dict[User, list[SameMeeting]] = {}
    for reader, meeting, bookings in _shown(people, now):
        if (reader.pk, reader.zone) in already or meeting.tzdata_version not in rules:
            continue
        was = rules[meeting.tzdata_version].local(meeting.starts_at, reader.zone)
        is_now = meeting.starts_at.astimezone(zone(reader.zone)).replace(tzinfo=None)
        if was not in (None, is_now) and shift_of(meeting) == NOT_SHIFTED:
            found.setdefault(reader, []).append(SameMeeting(meeting, was, bookings))
    return [
        OwnClock(
            reader, sorted(meetings, key=lambda same: (same.meeting.starts_at, same.meeting.pk))
        )
        for reader, meetings in sorted(found.items(), key=lambda item: item[0].pk)
    ]


def _shown(people: QuerySet[User], now: datetime) -> Iterator[tuple[User, Meeting, list[Booking]]]:
    """Meetings that these people teach or get email about, each with the reader's bookings."""
    ahead = out_of_date(now)
    ids = set(people.values_list("pk", flat=True))
    related = ("meeting__offering", "meeting__instructor__user", "student__user")
    children = Guardianship.objects.answering().filter(guardian__in=people).student_ids()
    about_them = Q(student__user__in=people) | Q(student__in=children)
    live = (
        Booking.objects.live()
        .filter(about_them, meeting__in=ahead)
        .select_related(*related)
        .distinct()
        .order_by("starts_at", "pk")
    )
    learns: dict[tuple[User, int], list[Booking]] = {}
    for reader, bookings in by_reader(live, now).items():
        if reader.pk in ids:
            for booking in bookings:
                learns.setdefault((reader, booking.meeting_id), []).append(booking)
    for meeting in ahead.filter(instructor__user__in=people).select_related(
        "offering", "instructor__user"
    ):
        if (meeting.instructor.user, meeting.pk) not in learns:
            yield meeting.instructor.user, meeting, []
    for (reader, _), bookings in learns.items():
        yield reader, bookings[0].meeting, bookings
