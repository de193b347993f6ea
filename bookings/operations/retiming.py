"""Zone rules have changed: the wall time is the promise, so the instants follow it, and whoever is concerned is told once.

A moved meeting that now lies on another is kept there and flagged for a person, as is one whose start no longer exists on
the clock; what is flagged stands outside the guards and goes on blocking new bookings.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from accounts.models import User
from bookings import notices, outbox
from bookings.access import own_students
from bookings.domain.errors import Refused
from bookings.domain.retiming import NOT_SHIFTED, Clash, Shifted
from bookings.domain.vocabulary import Standing
from bookings.domain.zone_rules import ZoneRules
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import LIVE, Booking, Meeting
from bookings.operations.audit import record
from bookings.operations.locks import hold_teachers, lock_meetings, lock_students
from bookings.operations.reminders import told_ahead
from bookings.queries.own_clocks import kept_rules, own_clocks
from bookings.queries.retiming import Clashes, clashes, shift_of

Row = TypeVar("Row", Meeting, Booking)

_WRITTEN = (
    "starts_at",
    "ends_at",
    "held_until",
    "tzdata_version",
    "is_flagged",
    "flagged_why",
    "sequence",
    "version",
    "changed_at",
)
_COPIED = ("starts_at", "ends_at", "answer_by", "version", "is_flagged")


@dataclass(frozen=True, slots=True)
class Retimed:
    """A meeting as it now stands, when it started before, and why a person has to look at it, if so."""

    meeting: Meeting
    old_starts_at: datetime
    why: tuple[Clash, ...]


def retime(*, meeting_ids: Collection[int], now: datetime) -> list[Retimed]:
    """Moves those of these meetings whose wall time the installed rules put elsewhere.

    Judged anew under the locks: what has begun, has been called off or was moved meanwhile is left alone. Meetings whose
    old and new periods meet for one person belong into one call (domain.retiming.tangles).
    """
    meetings, bookings = _locked(meeting_ids)
    changes = _still_due(meetings.values(), now)
    told_by = {pk: meeting.tzdata_version for pk, (meeting, _) in changes.items()}
    found = clashes(changes.values())
    # Each is flagged in the very update that moves it, so none meets a guard half way; those without a clash come back after it.
    done = [_move(meeting, shift, found[meeting.pk], now) for meeting, shift in changes.values()]
    hers = [booking for booking in bookings if booking.meeting_id in changes]
    for booking in hers:
        booking.meeting = changes[booking.meeting_id][0]
        _follow(booking, changes[booking.meeting_id][1])
    Meeting.objects.bulk_update([_flagged(one.meeting, True) for one in done], _WRITTEN)
    Booking.objects.bulk_update(
        [_flagged(booking, True) for booking in hers],
        ["starts_at", "ends_at", "answer_by", "version", "is_flagged"],
    )
    Meeting.objects.filter(pk__in=[one.meeting.pk for one in done if not one.why]).update(
        is_flagged=False
    )
    torn = {pk for clash in found.values() for pk in clash.bookings}
    Booking.objects.filter(
        pk__in=[booking.pk for booking in hers if booking.pk not in torn]
    ).update(is_flagged=False)
    for booking in hers:
        _flagged(booking, booking.pk in torn)
    for one in done:
        _flagged(one.meeting, bool(one.why))
        fields = ["starts_at"] * (one.old_starts_at != one.meeting.starts_at) + [
            "is_flagged"
        ] * bool(one.why)
        record(actor=None, verb="retimed", thing=one.meeting, fields=fields, now=now)
    moved = [one for one in done if one.old_starts_at != one.meeting.starts_at]
    # Reminders of the old hour, and shifts foretold by the old rules.
    places = {one.meeting.weekly_place_id for one in moved} - {None}
    outbox.withdraw(
        [
            *(f"meeting:{one.meeting.pk}" for one in moved),
            *(f"weekly-place:{place}" for place in places),
        ]
    )
    outbox.enqueue(_told(moved, hers, told_by, now), now=now)
    return done


def tell_own_clock(
    *, reader_id: int, rules: Mapping[str, ZoneRules], now: datetime
) -> notices.OwnClock | None:
    """Tells one reader, once, of the meetings that stay while the rules of her own clock change; None where she knows already.

    `rules` are the kept ones of the versions that derived meetings ahead. What was written ahead for her speaks of the old
    hours and is told anew. Whoever is booked afterwards by a process that
    still has the old rules is not told: end those first.
    """
    students = lock_students(row.pk for row in own_students(User(pk=reader_id), now=now))
    reader = User.objects.select_for_update(no_key=True).get(pk=reader_id)
    found = own_clocks(now, rules=rules, reader_id=reader_id)
    if not found:
        return None
    outbox.take_back_ahead(reader.pk, now=now)
    ahead = notices.clock_changed(reader, told_ahead(students, now), told_on=reader.zone, now=now)
    outbox.enqueue([*notices.own_clock_changed(found[0], now=now), *ahead], now=now)
    return found[0]


def stamp(*, meeting_ids: Collection[int]) -> int:
    """Notes the installed version on those that stay where they are; how many. Nothing that anybody sees changes."""
    meetings = lock_meetings(meeting_ids).values()
    same = [
        meeting.pk
        for meeting in meetings
        if meeting.tzdata_version != TZDATA_VERSION and shift_of(meeting) == NOT_SHIFTED
    ]
    return Meeting.objects.filter(pk__in=same).update(tzdata_version=TZDATA_VERSION)


def clear_flag(*, actor: User, meeting: Meeting, now: datetime) -> Meeting:
    """A person has looked: the flag goes, and with it those of its bookings. A gap is accepted as it stands.

    Refused("taken") or Refused("own-clash") while it still lies on another meeting, "already-done" where it is not flagged.
    """
    meetings, bookings = _locked([meeting.pk])
    current = meetings[meeting.pk]
    if not current.is_flagged:
        raise Refused("already-done", "This meeting is not flagged any more.")
    why = clashes([(current, NOT_SHIFTED)])[current.pk].why
    if Clash.INSTRUCTOR in why and not current.is_cancelled:
        raise Refused(
            "taken",
            "The instructor still has another meeting then, changeover included: move one of the two first.",
        )
    if Clash.STUDENT in why and not current.is_cancelled:
        raise Refused(
            "own-clash",
            "A student of it is still in another meeting then: move or cancel one of the two first.",
        )
    current.flagged_why = ""
    current.version += 1
    _flagged(current, False).save(update_fields=["is_flagged", "flagged_why", "version"])
    Booking.objects.filter(pk__in=[booking.pk for booking in bookings]).update(is_flagged=False)
    record(actor=actor, verb="cleared flag", thing=current, fields=["is_flagged"], now=now)
    return current


def _locked(meeting_ids: Collection[int]) -> tuple[dict[int, Meeting], list[Booking]]:
    """These meetings and their live bookings, by id, everything locked in the written order."""
    rows = (
        Booking.objects.filter(meeting__in=meeting_ids, standing__in=LIVE)
        .select_related("policy", "student__user")
        .order_by("pk")
    )
    instructors = Meeting.objects.filter(pk__in=meeting_ids).values_list("instructor_id", flat=True)
    hold_teachers(instructors, [booking.student for booking in rows.all()])
    meetings = lock_meetings(meeting_ids)
    lock_students([booking.student_id for booking in rows.all()])
    return meetings, list(rows.all())


def _still_due(meetings: Iterable[Meeting], now: datetime) -> dict[int, tuple[Meeting, Shifted]]:
    found = {}
    for meeting in meetings:
        if (
            meeting.tzdata_version != TZDATA_VERSION
            and meeting.starts_at > now
            and not meeting.is_cancelled
        ):
            shift = shift_of(meeting)
            if shift != NOT_SHIFTED:
                found[meeting.pk] = meeting, shift
    return found


def _move(meeting: Meeting, shift: Shifted, clash: Clashes, now: datetime) -> Retimed:
    """The meeting at its new instants, in memory."""
    old_starts_at = meeting.starts_at
    meeting.starts_at, meeting.ends_at, meeting.held_until = (
        instant + shift.by for instant in (meeting.starts_at, meeting.ends_at, meeting.held_until)
    )
    meeting.tzdata_version = TZDATA_VERSION
    meeting.flagged_why = " ".join(clash.why)
    meeting.version += 1
    if shift.moves:
        meeting.sequence += 1
        meeting.changed_at = now
    return Retimed(meeting, old_starts_at, clash.why)


def _follow(booking: Booking, shift: Shifted) -> None:
    """The copied period, and an answer that cannot be awaited beyond the start."""
    booking.starts_at, booking.ends_at = booking.starts_at + shift.by, booking.ends_at + shift.by
    booking.answer_by = booking.answer_by and min(booking.answer_by, booking.starts_at)
    booking.version += 1


def _flagged(row: Row, is_flagged: bool) -> Row:
    row.is_flagged = is_flagged
    return row


def _told(
    moved: Sequence[Retimed], bookings: Sequence[Booking], told_by: Mapping[int, str], now: datetime
) -> list[notices.OutboxMessage]:
    """What the people of these meetings read; an offer, which is in no calendar, is made again."""
    held = [booking for booking in bookings if booking.standing == Standing.HELD]
    rules = kept_rules(set(told_by.values()))
    changes = [
        notices.Moved(
            one.meeting,
            one.old_starts_at,
            [booking for booking in held if booking.meeting_id == one.meeting.pk],
            rules.get(told_by[one.meeting.pk]),
        )
        for one in moved
    ]
    messages = notices.retimed(changes, now=now)
    for offer in bookings:
        if offer.standing == Standing.OFFERED and any(
            one.meeting.pk == offer.meeting_id for one in moved
        ):
            messages += notices.offer_made(offer, now=now)
    return messages
