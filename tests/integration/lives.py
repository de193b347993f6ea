"""Lives of meetings, as lists of steps, and the check of the sequences that they leave."""

from datetime import timedelta

from django.core.exceptions import ObjectDoesNotExist
from django.db import transaction

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
    ilse, wren, offering = (
        cast.make_instructor(),
        cast.make_instructor("Wren Hale"),
        cast.make_offering(),
    )
    for teacher in (ilse, wren):
        cast.teaches(teacher, offering)
        cast.publish(teacher, cast.EVERY_DAY)
    noor = cast.make_student()
    made = write(
        lambda: book_slot(
            actor=noor.user,
            student=noor,
            offering=offering,
            instructor=ilse,
            starts_at=START,
            now=NOW,
        ),
        now=NOW,
    )

    def current() -> Booking:
        return Booking.objects.select_related("meeting__instructor__user", "student__user").get(
            pk=made.pk
        )

    for verb, hours in steps:
        if verb == "move":
            attempt(
                lambda: move_slot(
                    actor=noor.user,
                    booking=current(),
                    starts_at=START + timedelta(hours=hours),  # noqa: B023
                    now=NOW,
                )
            )
        elif verb == "hand over":
            to = wren if current().meeting.instructor_id == ilse.pk else ilse
            attempt(
                lambda: move_slot(
                    actor=noor.user,
                    booking=current(),
                    starts_at=current().starts_at,
                    instructor=to,  # noqa: B023
                    now=NOW,
                )
            )
        elif verb == "cancel":
            attempt(lambda: cancel_slot(actor=noor.user, booking=current(), now=NOW))
        elif verb == "reinstate":
            attempt(lambda: reinstate_meeting(actor=ilse.user, meeting=current().meeting, now=NOW))
        else:
            attempt(lambda: call_off(actor=ilse.user, meeting=current().meeting, why="", now=NOW))
    return written(), current().meeting


def group_life(steps) -> tuple[list[OutboxMessage], Meeting]:
    """A class of three whose two students come, go and come back while it changes its time, is
    called off and is reinstated.
    """
    cast.make_policy()
    group, ilse = cast.make_offering("Studio class", Kind.GROUP_MEETING, 50), cast.make_instructor()
    made = cast.make_meeting(group, ilse, START, places=3)
    posy = cast.make_minor(time_zone="Europe/Dublin")
    people = {"noor": cast.make_student(), "posy": posy}
    actors = {"noor": people["noor"].user, "posy": posy.guardians.get()}

    def current() -> Meeting:
        return Meeting.objects.select_related("offering", "instructor__user").get(pk=made.pk)

    for verb, who, hours in steps:
        student, actor = people[who], actors[who]
        held = Booking.objects.filter(
            meeting=made, student=student, standing="HELD"
        ).select_related("meeting__offering")
        if verb == "book":
            attempt(
                lambda: book_place(
                    actor=actor,  # noqa: B023
                    student=student,  # noqa: B023
                    meeting=current(),
                    place_kind="player",
                    now=NOW,
                )
            )
        elif verb == "leave":
            attempt(lambda: leave_place(actor=actor, booking=held.get(), now=NOW))  # noqa: B023
        elif verb == "remove":
            attempt(
                lambda: leave_place(
                    actor=ilse.user,
                    booking=held.get(),  # noqa: B023
                    reason="Asked by mail.",
                    now=NOW,
                )
            )
        elif verb == "move":
            attempt(
                lambda: change_meeting(
                    actor=ilse.user,
                    meeting=current(),
                    starts_at=START + timedelta(hours=hours),  # noqa: B023
                    now=NOW,
                )
            )
        elif verb == "reinstate":
            attempt(lambda: reinstate_meeting(actor=ilse.user, meeting=current(), now=NOW))
        else:
            attempt(lambda: call_off(actor=ilse.user, meeting=current(), why="", now=NOW))
    return written(), current()


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
