"""Ilse's day as tests clear it, and what left for a reader."""

from datetime import timedelta

from bookings.domain.clearing import Decision, Remedy
from bookings.domain.timeline import Period
from bookings.door import rehearse, write
from bookings.models import OutboxMessage
from bookings.operations.days_away import clear_hours
from tests.school.covering import DAY

SEVEN = DAY + timedelta(hours=7)
STRETCH = Period(DAY, DAY + timedelta(days=1))
CALL_OFF, COVER, MOVE, PROPOSE = Remedy
NO_CHARGE = "You will not be charged, and this does not count as a missed lesson."


def clear(school, *decisions, stretch=STRETCH, now=SEVEN, is_rehearsal=False, **more):
    """Ilse clears the stretch; a booking stands for its meeting called off."""
    decided = [
        one if isinstance(one, Decision) else Decision(one.meeting_id, CALL_OFF)
        for one in decisions
    ]

    def act():
        return clear_hours(
            actor=school.ilse.user,
            instructor=school.ilse,
            stretch=stretch,
            decisions=decided,
            now=now,
            **more,
        )

    return rehearse(act) if is_rehearsal else write(act, now=now)


def emails(reader, now=SEVEN):
    """What left for a reader, reminders left out."""
    rows = OutboxMessage.objects.filter(recipient=reader, made_at=now)
    return list(rows.exclude(kind__startswith="reminder").order_by("pk"))
