"""Who hears of a student, and that a barred guardian hears no more."""

import re

from django.db.models import Q

from accounts.models import Student, User
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.queries import calendars
from tests.races.simulation.acts import Acts


def readers_of(acts: Acts, student: Student) -> set[str]:
    """The addresses of a grown student, or of the guardians who are not barred."""
    number = next(i for i, row in enumerate(acts.school.students) if row.pk == student.pk)
    barred = acts.desk.students[number].barred
    guardians = enumerate(acts.school.guardians[number])
    return {str(user.email) for i, user in guardians if i not in barred}


def is_past(acts: Acts, to: str, meeting: Meeting) -> bool:
    """Whether the meeting had begun when this reader was barred, so that it stays where it is."""
    return any(
        acts.school.guardians[student][guardian].email == to and meeting.starts_at <= since
        for (student, guardian), (_, since) in acts.bars.items()
    )


def check_barred(acts: Acts) -> None:
    """No email to a barred guardian names the child, none waits, and no feed shows its meetings."""
    for (student, guardian), (newest, _) in acts.bars.items():
        child, reader = acts.school.students[student], acts.school.guardians[student][guardian]
        name = re.compile(rf"\b{child.first_name}\b")
        rows = OutboxMessage.objects.filter(Q(pk__gt=newest) | Q(state="due"), recipient=reader)
        named = [row.pk for row in rows if name.search(f"{row.title}\n{row.body}")]
        assert not named, f"{reader} is barred and is told of {child}: {named}"
        shown = {str(event.uid) for event in calendars.events_for(reader, now=acts.now)}
        hidden = shown & _only_of(acts, student, reader)
        assert not hidden, f"{reader} is barred and the feed shows meetings of {child}: {hidden}"


def _only_of(acts: Acts, student: int, reader: User) -> set[str]:
    """The meetings in which this child, and no other child of the reader, has or had a place."""
    theirs = [
        acts.school.students[number].pk
        for number, guardians in enumerate(acts.school.guardians)
        if any(user == reader for user in guardians) and number != student
    ]
    beside = Booking.objects.filter(student__in=theirs).values("meeting")
    booked = Booking.objects.filter(student=acts.school.students[student])
    rows = booked.exclude(meeting__in=beside).values_list("meeting__uid", flat=True)
    return {str(uid) for uid in rows}
