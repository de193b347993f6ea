"""A meeting that was called off, and what bringing it back does."""

from datetime import timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.operations import calling_off
from bookings.operations.booking import book_slot
from bookings.operations.reinstating import Reinstated, reinstate_meeting, who_returns
from tests import cast
from tests.cast import NOW
from tests.functional.api.client import snapshot
from tests.school.groups import Class

OFF, LATER, LAST = (NOW + timedelta(hours=hours) for hours in (1, 2, 3))


@pytest.fixture
def group() -> Class:
    """Noor and Marlo are in, Juno and Otis wait; consultations can be booked with Ilse and with
    Wren.
    """
    group = Class()
    group.held = group.full()
    group.talk = cast.make_offering()
    group.wren = cast.make_instructor("Wren Halloway", "America/New_York")
    for teacher in (group.ilse, group.wren):
        cast.teaches(teacher, group.talk)
        cast.publish(teacher, cast.EVERY_DAY)
    return group


def off(group: Class, now=OFF, meeting: Meeting | None = None) -> None:
    group.do(
        calling_off.call_off,
        actor=group.admin,
        meeting=meeting or group.meeting,
        why="The instructor is ill.",
        now=now,
    )


def back(group: Class, now=LATER, meeting: Meeting | None = None) -> Reinstated:
    return group.do(reinstate_meeting, actor=group.admin, meeting=meeting or group.meeting, now=now)


def consultation(group: Class, student, teacher, starts_at, now=OFF, **more) -> Booking:
    def book() -> Booking:
        actor = student.user or student.guardians.get()
        return book_slot(
            actor=actor,
            student=student,
            offering=group.talk,
            instructor=teacher,
            starts_at=starts_at,
            now=now,
            **more,
        )

    return write(book, now=now)


def refused(code: str, group: Class, meeting: Meeting | None = None, now=LATER) -> Refused:
    """The refusal, after checking that it left every row as it was and that the page would not have
    offered it.
    """
    before = snapshot()
    with pytest.raises(Refused) as caught:
        back(group, now, meeting)
    assert (caught.value.code, snapshot()) == (code, before)
    with pytest.raises(Refused):
        who_returns(Meeting.objects.get(pk=(meeting or group.meeting).pk), now=now)
    return caught.value


def written_at(now) -> list[OutboxMessage]:
    return list(
        OutboxMessage.objects.filter(made_at=now)
        .exclude(kind__startswith="reminder")
        .order_by("pk")
    )
