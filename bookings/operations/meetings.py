"""Group meetings and masterclasses: make, change, call off. A one-on-one is called off here too."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import QuerySet

from accounts.models import Instructor, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.timeline import CELL, EPOCH
from bookings.domain.vocabulary import Ended, MeetingStatus, PlaceKind, Standing
from bookings.models import LIVE, Booking, Meeting, Offering, SentSequence, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.booking import cancel_meeting, end, set_period
from bookings.operations.consents import check_hours
from bookings.operations.locks import lock_instructors, lock_meeting, lock_meetings, lock_students
from bookings.operations.queues import offer_next
from bookings.queries.teaching import (
    instructors_time,
    offering_rules,
    policy_in_force,
    zone_of_hours,
)

_AROUND = timedelta(days=1)


def create_meeting(
    *,
    actor: User,
    offering: Offering,
    instructor: Instructor,
    starts_at: datetime,
    title: str,
    places: int,
    listener_places: int = 0,
    join_address: str = "",
    now: datetime,
) -> Meeting:
    """A group meeting at a time the school chooses: it need not lie in teaching hours, but never on another meeting."""
    if offering.is_one_on_one:
        raise Refused(
            "wrong-kind",
            "A one-on-one is booked by its student; add a group meeting or a masterclass here.",
        )
    locked = lock_instructors([instructor.pk])[instructor.pk]
    if not locked.is_active:
        raise Refused(
            "not-taught", f"{locked} does not teach here any more. Choose another instructor."
        )
    meeting = Meeting(
        offering=offering,
        title=title,
        status=MeetingStatus.CONFIRMED,
        places=places,
        listener_places=listener_places,
        join_address=join_address or locked.room,
        made_at=now,
    )
    _put(meeting, locked, starts_at, now=now)
    meeting.save(force_insert=True)
    record(actor=actor, verb="made", thing=meeting, now=now)
    outbox.enqueue(notices.meeting_made(meeting, now=now), now=now)
    return meeting


def change_meeting(
    *,
    actor: User,
    meeting: Meeting,
    version: int | None = None,
    starts_at: datetime | None = None,
    title: str | None = None,
    places: int | None = None,
    listener_places: int | None = None,
    join_address: str | None = None,
    now: datetime,
) -> Meeting:
    """Changes a group meeting. Places never fall below those taken; places gained go to the waiting list in this transaction."""
    instructor = lock_instructors([meeting.instructor_id])[meeting.instructor_id]
    current = lock_meeting(meeting.pk, version=version)
    if current.offering.is_one_on_one:
        raise Refused("wrong-kind", "A one-on-one is moved by its booking.")
    if current.is_cancelled or current.starts_at <= now:
        raise Refused("already-ended", "This meeting has begun or has been called off.")
    bookings = _live_bookings(current)
    lock_students(
        [b.student_id for b in bookings]
        + list(_waiting(current).values_list("student_id", flat=True))
    )
    for name, wanted, taken in (
        ("places", places, current.taken),
        ("listener_places", listener_places, current.listeners_taken),
    ):
        if wanted is not None and wanted < taken:
            raise Refused(
                "has-bookings",
                f"{taken} places are taken: remove somebody from the roster before lowering the places.",
                field=name,
            )
    changed = [
        name
        for name, value in (
            ("title", title),
            ("places", places),
            ("listener_places", listener_places),
            ("join_address", join_address),
        )
        if value is not None and value != getattr(current, name)
    ]
    current.title = current.title if title is None else title
    current.places = current.places if places is None else places
    current.listener_places = (
        current.listener_places if listener_places is None else listener_places
    )
    current.join_address = current.join_address if join_address is None else join_address
    if starts_at is not None and starts_at != current.starts_at:
        _put(current, instructor, starts_at, now=now)
        for booking in bookings:
            check_hours(booking.student, current, policy_in_force(now))
        changed.append("starts_at")
    if not changed:
        return current
    told = {"title", "join_address", "starts_at"} & set(changed)
    if told:
        current.sequence += 1
        current.changed_at = now
    current.version += 1
    current.save()
    if "starts_at" in changed:
        for booking in bookings:
            booking.starts_at, booking.ends_at, booking.meeting = (
                current.starts_at,
                current.ends_at,
                current,
            )
            booking.answer_by = booking.answer_by and min(booking.answer_by, current.starts_at)
            booking.is_flagged = False
            booking.version += 1
            booking.save(
                update_fields=["starts_at", "ends_at", "answer_by", "is_flagged", "version"]
            )
    record(actor=actor, verb="changed", thing=current, fields=changed, now=now)
    messages = notices.meeting_changed(current, bookings, now=now) if told else []
    for offer in bookings:
        if "starts_at" in changed and offer.standing == Standing.OFFERED:
            outbox.withdraw_offer(offer.pk)
            messages += notices.offer_made(offer, now=now)
    for kind in PlaceKind:
        messages += offer_next(current, kind, now=now)
    outbox.enqueue(messages, now=now, shown_to=once_invited(current) if told else ())
    return current


def call_off(
    *, actor: User, meeting: Meeting, why: str, version: int | None = None, now: datetime
) -> Meeting:
    """The meeting does not happen: everybody booked, offered or waiting is told once, the calendars show it cancelled."""
    lock_instructors([meeting.instructor_id])
    current = lock_meeting(meeting.pk, version=version)
    if current.is_cancelled:
        raise Refused("already-ended", "This meeting has already been called off.")
    if current.starts_at <= now:
        raise Refused("past", "The meeting has begun; mark in the register what happened.")
    return _call_off([current], actor, why, now)[0]


def call_off_all(
    *, actor: User, meetings: Iterable[Meeting], why: str, now: datetime
) -> list[Meeting]:
    """The same for several meetings of one instructor, whom the caller has locked; those called off meanwhile are left out."""
    locked = lock_meetings([meeting.pk for meeting in meetings]).values()
    return _call_off([meeting for meeting in locked if not meeting.is_cancelled], actor, why, now)


def _call_off(meetings: list[Meeting], actor: User, why: str, now: datetime) -> list[Meeting]:
    booked = {meeting.pk: _live_bookings(meeting) for meeting in meetings}
    lock_students([booking.student_id for bookings in booked.values() for booking in bookings])
    for meeting in meetings:
        bookings = booked[meeting.pk]
        waiting = list(_waiting(meeting).select_related("student__user"))
        cancel_meeting(meeting, why=why, now=now)
        meeting.taken = meeting.listeners_taken = 0
        for booking in bookings:
            booking.meeting = meeting
            end(booking, why=Ended.CALLED_OFF, now=now)
        _waiting(meeting).update(ended_at=now, ended_why=Ended.CALLED_OFF)
        meeting.save()
        record(actor=actor, verb="called off", thing=meeting, fields=["status"], now=now)
        messages = notices.called_off(meeting, bookings, waiting=waiting, now=now)
        outbox.enqueue(messages, now=now, shown_to=once_invited(meeting))
    return meetings


def _live_bookings(meeting: Meeting) -> list[Booking]:
    rows = Booking.objects.filter(meeting=meeting, standing__in=LIVE)
    return list(
        rows.select_related(
            "policy", "student__user", "meeting__offering", "meeting__instructor__user"
        ).order_by("pk")
    )


def _waiting(meeting: Meeting) -> QuerySet[WaitingPlace]:
    return WaitingPlace.objects.filter(meeting=meeting, ended_at__isnull=True)


def once_invited(meeting: Meeting) -> QuerySet[SentSequence, int]:
    """Whoever has left it since as well: a feed shows what was left as cancelled for a while, and that follows the meeting."""
    return SentSequence.objects.filter(meeting=meeting).values_list("recipient_id", flat=True)


def _put(meeting: Meeting, instructor: Instructor, starts_at: datetime, *, now: datetime) -> None:
    if starts_at.tzinfo is None:
        raise Refused("naive-time", "Send the start with its offset, such as 2027-03-12T17:30:00Z.")
    if starts_at <= now:
        raise Refused("past", "Choose a start in the future.")
    if (starts_at - EPOCH) % CELL:
        raise Refused("off-grid", "Choose a start on whole five minutes.")
    asked = offering_rules(meeting.offering, policy_in_force(now).rules())
    ends_at = starts_at + timedelta(minutes=asked.minutes)
    held_until = ends_at + timedelta(minutes=asked.changeover_minutes)
    (time,) = instructors_time(
        [instructor], starts_at - _AROUND, held_until + _AROUND, ignoring=meeting.pk
    )
    if any(
        period.starts_at < held_until and starts_at < period.ends_at for period in time.meetings
    ):
        raise Refused(
            "taken",
            f"{instructor} has another meeting then, changeover included. Choose another time.",
        )
    meeting.instructor = instructor
    set_period(meeting, starts_at, ends_at, held_until, zone_of_hours(instructor))
    meeting.changed_at = now
