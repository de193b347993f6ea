"""The intake: what a student writes before a meeting for its instructor."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from accounts.models import Student, User
from bookings.access import is_family
from bookings.domain.errors import Refused
from bookings.models import Booking, Intake
from bookings.operations.audit import record
from bookings.operations.booking_state import current_booking
from bookings.operations.locks import lock_meetings


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeText:
    """Up to three questions, the most pressing first, pieces in hand, recordings, the obstacle.

    `practised_minutes` are minutes a week. `hurts` is None where it stays as it is.
    """

    questions: Sequence[str] = ()
    pieces: str = ""
    recordings: Sequence[str] = ()
    obstacle: str = ""
    practised_minutes: int | None = None
    hurts: str | None = None

    @property
    def is_empty(self) -> bool:
        """Whether the student has written nothing."""
        told = (self.questions, self.pieces, self.recordings, self.obstacle, self.hurts)
        return self.practised_minutes is None and not any(told)


def write_intake(
    *, actor: User, booking: Booking, intake: IntakeText, version: int | None = None, now: datetime
) -> Booking:
    """Replaces the intake of a booking. Allowed until the meeting starts.

    What hurts is replaced with it if given; then the version rises even if nothing changed, so
    that it does not tell an admin whether the family wrote of pain. Refused: "already-ended" after
    the start or where the booking has ended; "stale"; "invalid" for questions to a group; as
    `check_hurts`.
    """
    lock_meetings([booking.meeting_id])
    current = current_booking(booking, version=version)
    if not current.is_live or current.starts_at <= now:
        raise Refused(
            "already-ended",
            "The meeting has started or the booking has ended; "
            "bring your questions to the next one.",
        )
    check_hurts(actor, current.student, intake, now=now)
    if intake.questions and not current.meeting.offering.is_one_on_one:
        raise Refused(
            "invalid",
            "Questions are for a one-on-one. Bring yours to the meeting.",
            field="questions",
        )
    if intake == written_intake(current):
        return current
    store_intake(current, intake, now=now)
    current.version += 1
    current.save(update_fields=["version"])
    record(actor=actor, verb="wrote intake", thing=current, fields=["intake"], now=now)
    return current


def check_hurts(actor: User, student: Student, intake: IntakeText, *, now: datetime) -> None:
    """Refused("not-allowed") where anybody but the family writes what hurts."""
    if intake.hurts is not None and not is_family(actor, student, now=now):
        raise Refused(
            "not-allowed", "Only the student or a guardian writes what hurts: leave it out."
        )


def written_intake(booking: Booking) -> IntakeText:
    """The intake as it is stored but for what hurts; an empty one where there is none."""
    found = Intake.objects.filter(booking=booking).first()
    if found is None:
        return IntakeText()
    return IntakeText(
        questions=found.questions,
        pieces=found.pieces,
        recordings=found.recordings,
        obstacle=found.obstacle,
        practised_minutes=found.practised_minutes,
    )


def store_intake(booking: Booking, intake: IntakeText, *, now: datetime) -> None:
    """Writes the intake's row; the caller records the act."""
    fields: dict[str, Any] = {
        "questions": list(intake.questions),
        "pieces": intake.pieces,
        "recordings": list(intake.recordings),
        "obstacle": intake.obstacle,
        "practised_minutes": intake.practised_minutes,
        "written_at": now,
    }
    if intake.hurts is not None:
        fields["hurts"] = intake.hurts  # sealed for this booking by the model
    found = Intake.objects.filter(booking=booking).first() or Intake(booking=booking)
    for name, value in fields.items():
        setattr(found, name, value)
    found.save()


def carry_intake(old: Booking, new: Booking) -> None:
    """What was written for a place goes with it to another meeting, and leaves the old one."""
    found = Intake.objects.filter(booking=old).first()
    if found is not None:
        hurts = found.hurts
        found.booking = new
        found.hurts = hurts  # a sealed text opens only with the booking it was sealed for
        found.save()
