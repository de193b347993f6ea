"""The intake: what a student writes before a one-on-one for its instructor."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.models import Booking, Intake
from bookings.operations.audit import record
from bookings.operations.booking_state import current_booking
from bookings.operations.locks import lock_meetings


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeText:
    """Up to three questions, the most pressing first, pieces in hand, recordings, the obstacle."""

    questions: Sequence[str] = ()
    pieces: str = ""
    recordings: Sequence[str] = ()
    obstacle: str = ""

    @property
    def is_empty(self) -> bool:
        """Whether the student has written nothing."""
        return not (self.questions or self.pieces or self.recordings or self.obstacle)


def write_intake(
    *, actor: User, booking: Booking, intake: IntakeText, version: int | None = None, now: datetime
) -> Booking:
    """Replaces the intake of a booking. Allowed until the meeting starts.

    Refused: "already-ended" after that or where the booking has ended; "stale".
    """
    lock_meetings([booking.meeting_id])
    current = current_booking(booking, version=version)
    if not current.is_live or current.starts_at <= now:
        raise Refused(
            "already-ended",
            "The meeting has started or the booking has ended; "
            "bring your questions to the next one.",
        )
    if intake == written_intake(current):
        return current
    store_intake(current, intake, now=now)
    current.version += 1
    current.save(update_fields=["version"])
    record(actor=actor, verb="wrote intake", thing=current, fields=["intake"], now=now)
    return current


def written_intake(booking: Booking) -> IntakeText:
    """The intake as it is stored; an empty one where the student has written none."""
    found = Intake.objects.filter(booking=booking).first()
    if found is None:
        return IntakeText()
    return IntakeText(
        questions=found.questions,
        pieces=found.pieces,
        recordings=found.recordings,
        obstacle=found.obstacle,
    )


def store_intake(booking: Booking, intake: IntakeText, *, now: datetime) -> None:
    """Writes the intake's row; the caller records the act."""
    fields = {
        "questions": list(intake.questions),
        "pieces": intake.pieces,
        "recordings": list(intake.recordings),
        "obstacle": intake.obstacle,
    }
    Intake.objects.update_or_create(booking=booking, defaults={**fields, "written_at": now})
