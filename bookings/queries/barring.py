"""A guardian who is to be barred: what of a child is on its way to them, or in their calendar."""

import re
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from accounts.models import Guardianship, User
from bookings.domain.rooms import is_own_address
from bookings.domain.vocabulary import Standing
from bookings.models import Booking, Meeting, MeetingQuerySet, OutboxMessage, WaitingPlace
from bookings.notices import by_reader
from bookings.outbox import MessageKind
from bookings.queries.commitments import Ahead, ahead_of
from bookings.queries.guardians import left_alone
from bookings.queries.leaving import Ends
from bookings.queries.roles import Roles, roles_of


@dataclass(frozen=True, slots=True)
class Barring:
    """What an admin reads before they bar a guardian: what ends with the consent, the roles that
    the guardian keeps, and the child's lessons and meetings whose address the guardian goes on
    knowing.
    """

    ends: Ends
    roles: Roles
    known_rooms: list[Booking]


def barring_of(guardianship: Guardianship, *, now: datetime) -> Barring:
    """What barring this guardian means."""
    guardian, student = guardianship.guardian, guardianship.student
    alone = left_alone([student], without=guardian, now=now)
    ahead = ahead_of([student.pk], now=now)
    known = [] if alone else [one for one in ahead.bookings if _is_known(one)]
    return Barring(Ends(ahead if alone else Ahead([], [], []), []), roles_of(guardian), known)


def _is_known(booking: Booking) -> bool:
    meeting = booking.meeting
    return booking.standing == Standing.HELD and not is_own_address(
        meeting.instructor.room, meeting.join_address
    )


def has_another_guardian(guardianship: Guardianship) -> bool:
    """Whether another guardian answers for the student."""
    others = Guardianship.objects.answering().filter(student=guardianship.student_id)
    return others.exclude(pk=guardianship.pk).exists()


def emails_about(guardianship: Guardianship) -> list[OutboxMessage]:
    """The guardian's messages about the student that still have a text, sent or not.

    They are those about the student's meetings, proposed times, weekly places and notes, those that
    say the student's first name, and the consent form. None is among them that the guardian gets
    as an instructor.
    """
    name = rf"(?<!\w){re.escape(guardianship.student.first_name)}(?!\w)"
    theirs = OutboxMessage.objects.to(guardianship.guardian_id).exclude(body="")
    as_instructor = Q(meeting__instructor__user=guardianship.guardian_id)
    rows = theirs.exclude(as_instructor).exclude(kind=MessageKind.FOLLOW_UP)
    meetings = set(_meetings_of(guardianship).values_list("pk", flat=True))
    things = _things_of(guardianship)
    return [
        row
        for row in rows
        if row.meeting_id in meetings
        or row.subject_key in things
        or re.search(name, f"{row.title}\n{row.body}")
    ]


def _things_of(guardianship: Guardianship) -> set[str]:
    """The subject keys of what is the student's, and is no meeting."""
    student = guardianship.student
    return {
        f"guardianship:{guardianship.pk}",
        *(f"proposed-times:{pk}" for pk in student.proposed_times.values_list("pk", flat=True)),
        *(f"weekly-place:{pk}" for pk in student.weekly_places.values_list("pk", flat=True)),
        f"owed-lessons:{student.pk}",
        *(f"owed-lesson:{pk}" for pk in student.owed_lessons.values_list("pk", flat=True)),
        *(f"assessment:{one}" for one in student.assessments.values_list("lineage", flat=True)),
    }


def unsent_about(guardianship: Guardianship) -> list[OutboxMessage]:
    """Those of `emails_about` that have not left, but for what leaves the guardian's calendar."""
    return [
        row
        for row in emails_about(guardianship)
        if row.state in (OutboxMessage.State.DUE, OutboxMessage.State.GIVEN_UP)
        and row.kind != MessageKind.CANCELLATION
    ]


def in_calendar(guardianship: Guardianship, *, now: datetime) -> list[Meeting]:
    """The student's meetings ahead that stand in the guardian's calendar, as far as is known: the
    last thing that was sent, or is on its way, is a REQUEST. None that the guardian teaches.
    """
    left = Q(state=OutboxMessage.State.SENT) | Q(attempts__gt=0)
    meetings = _meetings_of(guardianship).filter(starts_at__gt=now)
    meetings = meetings.exclude(instructor__user=guardianship.guardian_id)
    rows = OutboxMessage.objects.to(guardianship.guardian_id).filter(left, meeting__in=meetings)
    parts = rows.filter(sequence__isnull=False).order_by("sequence", "pk")
    last = dict(parts.values_list("meeting", "method"))
    standing = [meeting for meeting, method in last.items() if method == "REQUEST"]
    found = Meeting.objects.filter(pk__in=standing).select_related("offering", "instructor__user")
    return list(found.order_by("starts_at", "pk"))


def places_beside(guardianship: Guardianship, *, now: datetime) -> dict[Meeting, list[Booking]]:
    """The places of which the guardian still hears in meetings of the student, by meeting."""
    held = Booking.objects.held().ahead(now).filter(meeting__in=_meetings_of(guardianship))
    reader: User = guardianship.guardian
    heard = by_reader(held.with_details().order_by("starts_at", "pk"), now).get(reader, [])
    beside: dict[Meeting, list[Booking]] = {}
    for booking in heard:
        if booking.student_id != guardianship.student_id:
            beside.setdefault(booking.meeting, []).append(booking)
    return beside


def _meetings_of(guardianship: Guardianship) -> MeetingQuerySet:
    """The meetings in which the student has or had a place, or waits for one."""
    student = guardianship.student_id
    booked = Booking.objects.filter(student=student).order_by().values("meeting")
    waits = WaitingPlace.objects.filter(student=student).order_by().values("meeting")
    return Meeting.objects.filter(Q(pk__in=booked) | Q(pk__in=waits)).order_by()
