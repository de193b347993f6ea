"""Races with an instructor who goes away, or leaves the school, while others book."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from accounts.models import Instructor
from bookings.domain.vocabulary import Ended, MeetingStatus, Standing
from bookings.models import Booking, Meeting
from tests.races.drivers import Hit, Shot
from tests.races.plans import (
    API,
    Complaints,
    Plan,
    among,
    booked,
    expect,
    place,
    placed,
    slot,
)
from tests.races.scenarios_groups import counted
from tests.races.scenarios_slots import HALF_HOUR
from tests.races.school import School


def days_away(school: School, _: object) -> Plan:
    """R12. They go away on a day on which others are booking: refused with the list of what is in
    the way, or all called off.
    """
    ilse, day = school.instructor(), school.day()
    away = {"instructor": ilse.pk, "first_on": f"{day:%Y-%m-%d}", "last_on": f"{day:%Y-%m-%d}"}
    bodies = [away, away, {**away, "call_off_reason": "Ilse is ill that day."}]
    orders = [
        _admin(school, "days-away", f"{API}days-away/", body, 0.1 + 0.1 * i)
        for i, body in enumerate(bodies)
    ]
    return _gone(school, ilse, day, orders)


def dismissal(school: School, _: object) -> Plan:
    """R13. They leave the school while others are booking with them: refused with the list of what
    is in the way, or all called off.
    """
    ilse, day = school.instructor(), school.day()
    bodies: list[dict[str, object]] = [{}, {}, {"call_off_reason": "Ilse has left the school."}]
    path = f"{API}instructors/{ilse.pk}/dismiss/"
    orders = [
        _admin(school, "dismiss", path, {**body}, 0.1 + 0.1 * i, instructor=ilse.pk)
        for i, body in enumerate(bodies)
    ]
    return _gone(school, ilse, day, orders)


def _gone(school: School, ilse: Instructor, day: datetime, orders: list[Shot]) -> Plan:
    """Five lessons and a group on that day, five in it; seventy who book lessons and twenty who
    book places meanwhile.
    """
    meeting = school.meeting(ilse, day + timedelta(hours=19), 30)
    clients, random = school.clients, school.random
    for i in range(5):
        placed(clients[i], meeting)
        booked(clients[i], school.consultation, ilse, day + timedelta(hours=9) + HALF_HOUR * i)
    shots = list(orders)
    for client in clients[5:75]:
        start = day + timedelta(hours=11, minutes=30) + HALF_HOUR * random.randrange(15)
        shots.append(slot(client, school.consultation, ilse, start, delay=random.uniform(0, 0.6)))
    shots += [place(client, meeting, delay=random.uniform(0, 0.6)) for client in clients[75:95]]
    allowed = {"taken", "outside-hours", "already-ended", "not-taught", "not-found"}

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        return (
            _wrong_orders(hits[:2], hits[2])
            + _left_standing(ilse)
            + among(hits[3:], allowed)
            + counted(meeting, 0)
        )

    return Plan(shots=shots, judge=judge)


def _wrong_orders(listing: Sequence[Hit], called_off: Hit) -> Complaints:
    """The order to call off is carried out; those before it that call nothing off are refused and
    list at least six meetings.
    """
    done = 201 if called_off.shot.operation == "days-away" else 200
    wrong = expect("the order to call off", called_off.status, done)
    for hit in listing:
        may_be_late = hit.returned is None or hit.returned > called_off.called
        listed = len(hit.body.get("meetings", ()))
        refused = (hit.status, hit.body.get("code")) == (409, "has-bookings")
        if not may_be_late and not (refused and listed >= 6):
            wrong.append(
                f"an order that calls nothing off was answered {hit.status} and lists "
                f"{listed}: {hit.body.get('detail')}"
            )
    return wrong


def _left_standing(ilse: Instructor) -> Complaints:
    ahead = Meeting.objects.filter(instructor=ilse).exclude(status=MeetingStatus.CANCELLED)
    kept = Booking.objects.filter(meeting__instructor=ilse).exclude(
        standing=Standing.ENDED, ended_why=Ended.CALLED_OFF
    )
    return expect("meetings that still stand", [row.pk for row in ahead], []) + expect(
        "bookings that were not called off", [row.pk for row in kept], []
    )


def _admin(
    school: School, operation: str, path: str, body: dict[str, Any], delay: float, **told: Any
) -> Shot:
    told["call_off"] = "call_off_reason" in body
    return Shot(
        operation=operation, path=path, token=school.admin_token, body=body, delay=delay, told=told
    )
