"""Lives of meetings, as lists of steps, and the check of the sequences that they leave."""

from datetime import timedelta
from functools import partial

from django.core.exceptions import ObjectDoesNotExist
from django.db import transaction

from accounts.models import Instructor, Student
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.operations.booking import book_slot, cancel_slot, move_slot
from bookings.operations.calling_off import call_off
from bookings.operations.meetings import change_meeting
from bookings.operations.places import book_place, leave_place
from bookings.operations.reinstating import reinstate_meeting
from tests import cast
from tests.cast import NOW, at
from tests.letters import value

START = at("2027-03-09T15:00Z")
ENDED = ("DTSTART", "DTEND", "STATUS")


class _Undone(Exception):
    """Takes a whole life back."""


def check(messages: list[OutboxMessage]) -> int:
    """Fails where one recipient's calendar would be left with an older state; how many calendar
    parts were looked at.

    Section 2.1.4: SEQUENCE rises where DTSTART, DTEND or STATUS changes and with each CANCEL; it
    never falls, and UID stays.
    """
    last: dict[int, tuple[int, list[str | None], str | None, str]] = {}
    uids: set[str | None] = set()
    for message in messages:
        if message.method not in {"REQUEST", "CANCEL"}:
            continue
        sequence = int(value(message.calendar, "SEQUENCE") or "0")
        assert sequence == message.sequence
        assert value(message.calendar, "METHOD") == message.method
        uids.add(value(message.calendar, "UID"))
        event = message.calendar[message.calendar.index("BEGIN:VEVENT") :]
        assert event.count("\r\nATTENDEE") == 1
        state = [value(event, name) for name in ENDED]
        if message.method == "REQUEST":
            assert state[2] in {"CONFIRMED", "TENTATIVE"}
        before = last.get(message.recipient_id)
        if before is not None:
            assert sequence >= before[0]
            if message.method == "CANCEL" or before[3] == "CANCEL" or state != before[1]:
                assert sequence > before[0]
        last[message.recipient_id] = (sequence, state, value(event, "UID"), message.method)
    assert len(uids) <= 1
    return len(last)


def written() -> list[OutboxMessage]:
    return list(OutboxMessage.objects.exclude(calendar="").order_by("pk"))


def attempt(act) -> bool:
    """Whether the step was let through; a life goes on after a refusal."""
    try:
        write(act, now=NOW)
    except (Refused, ObjectDoesNotExist):
        return False
    return True


def one_on_one_life(steps) -> tuple[list[OutboxMessage], Meeting]:
    """Booked, then moved and handed between two instructors, cancelled, or called off and
    reinstated.
    """
    cast.make_policy()
    pair = cast.make_instructor(), cast.make_instructor("Wren Hale")
    offering, noor = cast.make_offering(), cast.make_student()
    for teacher in pair:
        cast.teaches(teacher, offering)
        cast.publish(teacher, cast.EVERY_DAY)
    asked = {"student": noor, "offering": offering, "instructor": pair[0], "starts_at": START}
    made = write(lambda: book_slot(actor=noor.user, now=NOW, **asked), now=NOW)
    read = Booking.objects.select_related("meeting__instructor__user", "student__user")
    for verb, hours in steps:
        attempt(partial(_step_of_lesson, verb, hours, read.get(pk=made.pk), pair))
    return written(), read.get(pk=made.pk).meeting


def _step_of_lesson(
    verb: str, hours: int, booking: Booking, pair: tuple[Instructor, Instructor]
) -> object:
    """One step; the first instructor is the one who calls off and reinstates."""
    ilse, wren = pair
    if verb == "move":
        return move_slot(
            actor=booking.student.user,
            booking=booking,
            starts_at=START + timedelta(hours=hours),
            now=NOW,
        )
    if verb == "hand over":
        return move_slot(
            actor=booking.student.user,
            booking=booking,
            starts_at=booking.starts_at,
            instructor=wren if booking.meeting.instructor_id == ilse.pk else ilse,
            now=NOW,
        )
    if verb == "cancel":
        return cancel_slot(actor=booking.student.user, booking=booking, now=NOW)
    return _end_or_bring_back(verb, ilse, booking.meeting)


def _end_or_bring_back(verb: str, instructor: Instructor, meeting: Meeting) -> object:
    if verb == "reinstate":
        return reinstate_meeting(actor=instructor.user, meeting=meeting, now=NOW)
    return call_off(actor=instructor.user, meeting=meeting, why="", now=NOW)


def group_life(steps) -> tuple[list[OutboxMessage], Meeting]:
    """A class of three whose two students come, go and come back while it changes its time, is
    called off and is reinstated.
    """
    cast.make_policy()
    group, ilse = cast.make_offering("Studio class", Kind.GROUP_MEETING, 50), cast.make_instructor()
    cast.teaches(ilse, group)
    made = cast.make_meeting(group, ilse, START, places=3)
    people = {"noor": cast.make_student(), "posy": cast.make_minor(time_zone="Europe/Dublin")}
    read = Meeting.objects.select_related("offering", "instructor__user")
    for verb, who, hours in steps:
        attempt(partial(_step_of_group, verb, people[who], hours, read.get(pk=made.pk)))
    return written(), read.get(pk=made.pk)


def _step_of_group(verb: str, student: Student, hours: int, meeting: Meeting) -> object:
    """One step, of the family or of the instructor."""
    actor = student.user or student.guardians.get()
    ilse = meeting.instructor
    if verb == "book":
        return book_place(
            actor=actor, student=student, meeting=meeting, place_kind="player", now=NOW
        )
    if verb == "leave":
        return leave_place(actor=actor, booking=_held(meeting, student), now=NOW)
    if verb == "remove":
        why = "Asked by mail."
        return leave_place(actor=ilse.user, booking=_held(meeting, student), reason=why, now=NOW)
    if verb == "move":
        starts_at = START + timedelta(hours=hours)
        return change_meeting(actor=ilse.user, meeting=meeting, starts_at=starts_at, now=NOW)
    return _end_or_bring_back(verb, ilse, meeting)


def _held(meeting: Meeting, student: Student) -> Booking:
    found = Booking.objects.filter(meeting=meeting, student=student, standing="HELD")
    return found.select_related("meeting__offering").get()


def lived(life, steps) -> None:
    try:
        with transaction.atomic():
            messages, meeting = life(steps)
            check(messages)
            if meeting.is_cancelled and messages:
                last = {message.recipient_id: message for message in messages}
                assert {message.method for message in last.values()} <= {"CANCEL"}
            raise _Undone
    except _Undone:
        pass
