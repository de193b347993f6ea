"""The reminder of an owed lesson before it lapses: written once, taken back once it is not owed."""

from datetime import datetime, timedelta
from itertools import groupby

from bookings import notices, outbox
from bookings.domain.owed import REMINDED_BEFORE
from bookings.models import OwedLesson
from bookings.operations.locks import lock_students
from bookings.queries.owed import is_reminder_due

_A_DAY = timedelta(days=1)
"""No clock is further from UTC."""


def remind_of_owed(*, now: datetime) -> int:
    """Reminds each family of the owed lessons whose use-by date is near; returns of how many.

    Those of one student that are to be used by one date are told in one email. A lesson that is
    owed only since then has been told with its date, and a student who has left books nothing.
    """
    near = (now + REMINDED_BEFORE + _A_DAY).date()
    rows = OwedLesson.objects.unreminded().filter(use_by__lte=near, student__is_active=True)
    due = [owed for owed in rows.with_details() if is_reminder_due(owed, now)]
    lock_students(owed.student_id for owed in due)
    locked = rows.with_details().filter(pk__in=[owed.pk for owed in due])
    reminded = list(locked.order_by("student_id", "use_by", "pk"))
    messages = []
    for _, theirs in groupby(reminded, key=lambda owed: (owed.student_id, owed.use_by)):
        messages += notices.owed_reminder(list(theirs), now=now)
    OwedLesson.objects.filter(pk__in=[owed.pk for owed in reminded]).update(reminded_at=now)
    outbox.enqueue(messages, now=now)
    return len(reminded)


def take_back_reminder(owed: OwedLesson) -> None:
    """Takes back the unsent reminder of an owed lesson that is booked, settled or owed no more.

    The other lessons that it names are told of anew. The caller holds the student's lock.
    """
    if outbox.take_back_owed_reminders(*notices.owed_reminder_keys(owed)):
        others = OwedLesson.objects.of(owed.student_id).filter(use_by=owed.use_by)
        others.exclude(pk=owed.pk).update(reminded_at=None)
