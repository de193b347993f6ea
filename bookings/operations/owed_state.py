"""Owed lessons as they follow from what happens to a booking. The caller holds its locks, and the
student's: every owed lesson of a student is written under that lock.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.domain.owed import left_by, use_by_after, use_by_of
from bookings.domain.vocabulary import Ended, OwedCause, OwedClosed
from bookings.models import Booking, OwedLesson, WeeklyPlace
from bookings.operations.audit import record
from bookings.operations.owed_reminders import take_back_reminder
from bookings.queries.owed import (
    is_limit_used,
    lesson_end,
    made_up_by,
    marked_as,
    owed_for,
    term_of,
)


def owe_for(booking: Booking, *, actor: User | None, now: datetime) -> OwedLesson | None:
    """Writes what the school owes for a one-on-one that has just ended or been marked, or takes it
    back where nothing is owed any more. Returns what is owed.

    Refused("owed-settled") where it has been used or closed, and would not be owed any more.
    """
    if not booking.meeting.offering.is_one_on_one:
        return None
    owed = owed_for(booking)
    end = lesson_end(booking, marked_as(booking))
    left = left_by(end, is_limit_used=is_limit_used(booking), now=now)
    if left.cause is None:
        if owed is not None:
            take_back_owed(owed, actor=actor, now=now)
        return None
    if owed is not None:
        return _because(owed, left.cause, actor=actor, now=now)
    return _write(booking, left.cause, actor=actor, now=now)


def _because(
    owed: OwedLesson, cause: OwedCause, *, actor: User | None, now: datetime
) -> OwedLesson:
    """The same owed lesson, for what is now known to be its cause."""
    if owed.cause != cause:
        owed.cause = cause
        owed.version += 1
        owed.save(update_fields=["cause", "version"])
        record(actor=actor, verb="corrected", thing=owed, fields=["cause"], now=now)
    return owed


def _write(booking: Booking, cause: OwedCause, *, actor: User | None, now: datetime) -> OwedLesson:
    term = term_of(booking)
    use_by = use_by_of(booking.starts_at, booking.student.zone, booking.policy.rules())
    if term is not None and term.flex_last_on is not None:
        use_by = max(use_by, term.flex_last_on)
    before = booking.makes_up
    if before is not None:
        # A family cannot gain time by cancelling its make-up. The school's cause never costs time.
        use_by = before.use_by if cause.is_the_familys else max(use_by, before.use_by)
    owed = OwedLesson.objects.create(
        booking=booking,
        student=booking.student,
        term=term,
        offering=booking.meeting.offering,
        minutes=booking.meeting.minutes,
        cause=cause,
        use_by=use_by,
        owed_at=now,
    )
    record(actor=actor, verb="owed", thing=owed, now=now)
    return owed


def take_back_owed(owed: OwedLesson, *, actor: User | None, now: datetime) -> None:
    """What was owed for a lesson is not owed any more: it takes place, or was given after all.

    A make-up lesson that ended and is owed again goes with it. Refused as `check_may_take_back`.
    """
    check_may_take_back(owed)
    make_up = made_up_by(owed)
    again = owed_for(make_up) if make_up is not None else None
    if make_up is not None and again is not None:
        take_back_owed(again, actor=actor, now=now)
        make_up.makes_up = None
        make_up.save(update_fields=["makes_up"])
    record(actor=actor, verb="owed no more", thing=owed, now=now)
    take_back_reminder(owed)
    owed.delete()


def check_may_take_back(owed: OwedLesson) -> None:
    """Refused("owed-settled") where it has been made up, or closed by an admin.

    One that lapsed may be taken back: nobody has had anything for it.
    """
    make_up = made_up_by(owed)
    again = owed_for(make_up) if make_up is not None else None
    if again is not None:
        check_may_take_back(again)
    elif make_up is not None:
        raise Refused(
            "owed-settled",
            "A make-up lesson has been booked for this lesson, so it still counts as owed. "
            "If the make-up lesson is still ahead, call it off first.",
            booking=make_up.pk,
        )
    if owed.is_closed and owed.closed_how != OwedClosed.LAPSED:
        raise Refused(
            "owed-settled",
            "An admin has settled what was owed for this lesson, so it still counts as owed.",
        )


def release_promise(booking: Booking) -> None:
    """A promised lesson ends with its student: nobody is owed it, and it is promised no more.

    What a make-up stood for is owed again, by `owe_for`.
    """
    place = booking.meeting.weekly_place
    if place is not None:
        place.promised -= 1
        place.save(update_fields=["promised"])


def pass_promises_on(
    place: WeeklyPlace, bookings: Iterable[Booking], *, actor: User, now: datetime
) -> int:
    """A new place gives the lessons that are owed since another one ended with its instructor: of
    the same term and offering, ahead, each in a week in which the new place has a lesson.

    They are owed no more, and the old place does not promise them any more. Returns how many.
    """
    weeks = {_monday(booking) for booking in bookings}
    ended = (
        OwedLesson.objects.still_owed()
        .of(place.student_id)
        .filter(
            term=place.term,
            offering=place.offering,
            booking__starts_at__gt=now,
            booking__meeting__weekly_place__ended_why=Ended.CALLED_OFF,
        )
    )
    passed = 0
    for owed in ended.with_details().order_by("pk"):
        booking = owed.booking
        if booking is not None and _monday(booking) in weeks:
            release_promise(booking)
            record(actor=actor, verb="owed no more", thing=owed, now=now)
            take_back_reminder(owed)
            owed.delete()
            passed += 1
    return passed


def _monday(booking: Booking) -> date:
    on = booking.meeting.wall_on
    return on - timedelta(days=on.weekday())


def owe_missing_dates(
    place: WeeklyPlace, missing: int, *, actor: User, now: datetime
) -> list[OwedLesson]:
    """Owes as many lessons as a changed weekly place has dates fewer than the old one had.

    The school promised them, and the place changed by its plan. Each counts in the place's promise.
    """
    if missing <= 0:
        return []
    use_by = use_by_after(place.term.last_on, place.policy.rules())
    if place.term.flex_last_on is not None:
        use_by = max(use_by, place.term.flex_last_on)
    rows = [
        OwedLesson.objects.create(
            weekly_place=place,
            student=place.student,
            term=place.term,
            offering=place.offering,
            minutes=place.offering.minutes,
            cause=OwedCause.PLACE_CHANGED,
            use_by=use_by,
            owed_at=now,
        )
        for _ in range(missing)
    ]
    for row in rows:
        record(actor=actor, verb="owed", thing=row, now=now)
    place.promised += missing
    place.save(update_fields=["promised"])
    return rows
