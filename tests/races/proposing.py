"""Requests about proposed times, and rows of them that stand before a race begins."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from accounts.models import Instructor, Student
from bookings import clock
from bookings.door import write
from bookings.models import Booking, MoveRequest, ProposedTimes
from bookings.operations.move_requests import request_move
from bookings.operations.proposed_times import propose_other_times, propose_times
from tests.races.drivers import Shot
from tests.races.plans import ANY_VERSION, API
from tests.races.school import Client, School


def propose(
    school: School,
    student: Student,
    starts: Sequence[datetime],
    *,
    instructor: Instructor | None = None,
    request: MoveRequest | None = None,
    lesson: Booking | None = None,
) -> Shot:
    """An admin proposes times, in answer to the `request` to move a `lesson` where there is one."""
    body: dict[str, Any] = {"starts": [start.isoformat() for start in starts]}
    told = {}
    if request is not None and lesson is not None:
        body["move_request"], told = request.pk, {"booking": lesson.pk}
    if instructor is not None:
        body |= {"offering": school.consultation.pk, "instructor": instructor.pk}
        body["student"] = student.pk
    return Shot(
        operation="propose",
        path=f"{API}proposals/",
        token=school.admin_token,
        body=body,
        student=student.pk,
        told=told,
    )


def take(client: Client, proposal: ProposedTimes, time: Booking, **more: Any) -> Shot:
    """They take one of the times, whatever the version."""
    return answer("take", client, proposal, body={"booking": time.pk}, **more)


def answer(verb: str, client: Client, proposal: ProposedTimes, **more: Any) -> Shot:
    """They take, decline or withdraw, whatever the version."""
    return Shot(
        operation=verb if verb == "take" else f"{verb}-times",
        path=f"{API}proposals/{proposal.pk}/{verb}/",
        token=client.token,
        headers=ANY_VERSION,
        student=client.student.pk,
        told={"proposal": proposal.pk},
        **more,
    )


def declines(client: Client, lesson: Booking) -> Shot:
    """They decline what the school has booked, whatever the version."""
    return Shot(
        operation="decline-lesson",
        path=f"{API}bookings/{lesson.pk}/decline/",
        token=client.token,
        headers=ANY_VERSION,
        student=client.student.pk,
        told={"booking": lesson.pk},
    )


def proposed(
    school: School,
    instructor: Instructor,
    student: Student,
    starts: Sequence[datetime],
    *,
    request: MoveRequest | None = None,
) -> ProposedTimes:
    """Times that are proposed before the race begins."""
    actor, now = instructor.user, clock.now()
    if request is not None:
        return write(
            lambda: propose_other_times(actor=actor, request=request, starts=starts, now=now),
            now=now,
        )
    return write(
        lambda: propose_times(
            actor=actor,
            student=student,
            offering=school.consultation,
            instructor=instructor,
            starts=starts,
            now=now,
        ),
        now=now,
    )


def asked_to_move(client: Client, lesson: Booking, starts_at: datetime) -> MoveRequest:
    """A family has asked for another start."""
    actor, now = client.student.user, clock.now()
    assert actor is not None
    return write(
        lambda: request_move(actor=actor, booking=lesson, starts_at=starts_at, now=now), now=now
    )
