"""Races at the doors: one key, one version, an instructor who goes away or leaves, a feed's
address.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlsplit
from uuid import UUID

from accounts.models import Instructor, User
from bookings import clock
from bookings.domain.vocabulary import Ended, MeetingStatus, Standing
from bookings.door import write
from bookings.models import Booking, Meeting
from bookings.operations.subscriptions import open_feed
from tests.races.drivers import Hit, Shot, ask
from tests.races.plans import (
    ANY_VERSION,
    API,
    Complaints,
    Plan,
    Race,
    among,
    booked,
    expect,
    place,
    placed,
    slot,
    statuses,
)
from tests.races.scenarios_groups import counted
from tests.races.scenarios_slots import HALF_HOUR
from tests.races.school import Client, School

FIFTY = 50


def one_key(school: School, status: int) -> Plan:
    """R8. One booking sent fifty times with one Idempotency-Key: all get the same bytes, of the one
    booking or of the one refusal.
    """
    ilse, start, client = school.instructor(), school.day() + timedelta(hours=12), school.clients[0]
    if status == 409:
        booked(school.clients[1], school.consultation, ilse, start)
    shots = [slot(client, school.consultation, ilse, start, headers=_key(school))] * FIFTY

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = expect("answers", statuses(hits), {status: FIFTY}) + expect(
            "different answers", len({hit.raw for hit in hits}), 1
        )
        return wrong + expect(
            "bookings", Booking.objects.filter(meeting__instructor=ilse).count(), 1
        )

    return Plan(shots=shots, judge=judge)


def other_body(school: School, _: object) -> Plan:
    """R9. Two bodies under one key: the first wins, its twins get its bytes, the other is refused
    with 422.
    """
    ilse, day, client, key = school.instructor(), school.day(), school.clients[0], _key(school)
    starts = [day + timedelta(hours=hour) for hour in (10, 15)]
    shots = [
        slot(client, school.consultation, ilse, start, headers=key)
        for start in starts
        for _ in range(FIFTY // 2)
    ]
    school.random.shuffle(shots)

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        won = [hit for hit in hits if hit.status == 201]
        wrong = expect("answers", statuses(hits), {201: FIFTY // 2, 422: FIFTY // 2}) + among(
            hits, {"key-reused"}
        )
        wrong += expect("different answers to one body", len({hit.raw for hit in won}), 1)
        wrong += expect(
            "bodies that won", len({hit.shot.body["starts_at"] for hit in won if hit.shot.body}), 1
        )
        return wrong + expect(
            "bookings",
            Booking.objects.filter(student=client.student, meeting__instructor=ilse).count(),
            1,
        )

    return Plan(shots=shots, judge=judge)


def one_version(school: School, _: object) -> Plan:
    """R10. Fifty changes of one version of a meeting: one is written, forty-nine are told to read
    it again.
    """
    meeting = school.meeting(school.instructor(), school.day() + timedelta(hours=12), 12)
    path = f"{API}meetings/{meeting.pk}/"
    tag = {"If-Match": f'"meeting-{meeting.pk}-{meeting.version}"'}
    shots = [
        Shot(
            operation="patch",
            path=path,
            method="PATCH",
            token=school.admin_token,
            body={"title": f"Ornaments {i}"},
            headers=tag,
            told={"meeting": meeting.pk, "version": meeting.version},
        )
        for i in range(FIFTY)
    ]

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = expect("answers", statuses(hits), {200: 1, 412: FIFTY - 1}) + among(hits, {"stale"})
        (title,) = [hit.body["title"] for hit in hits if hit.status == 200] or [None]
        meeting.refresh_from_db()
        return (
            wrong
            + expect("the title", meeting.title, title)
            + expect("the version", meeting.version, 2)
        )

    return Plan(shots=shots, judge=judge)


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

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        called_off = hits[2]
        wrong = expect(
            "the order to call off",
            called_off.status,
            201 if called_off.shot.operation == "days-away" else 200,
        )
        for hit in hits[:2]:
            may_be_late = hit.returned is None or hit.returned > called_off.called
            listed = len(hit.body.get("meetings", ()))
            if not may_be_late and (hit.status, hit.body.get("code"), listed >= 6) != (
                409,
                "has-bookings",
                True,
            ):
                wrong.append(
                    f"an order that calls nothing off was answered {hit.status} and lists "
                    f"{listed}: {hit.body.get('detail')}"
                )
        ahead = Meeting.objects.filter(instructor=ilse).exclude(status=MeetingStatus.CANCELLED)
        wrong += expect("meetings that still stand", [row.pk for row in ahead], [])
        kept = Booking.objects.filter(meeting__instructor=ilse).exclude(
            standing=Standing.ENDED, ended_why=Ended.CALLED_OFF
        )
        wrong += expect("bookings that were not called off", [row.pk for row in kept], [])
        return (
            wrong
            + among(
                hits[3:], {"taken", "outside-hours", "already-ended", "not-taught", "not-found"}
            )
            + counted(meeting, 0)
        )

    return Plan(shots=shots, judge=judge)


def feed(school: School, _: object) -> Plan:
    """R14. A feed's address is renewed twenty times while eighty fetch the one they know: from the
    first renewal on it is nothing.
    """
    school.day()
    client, now = school.clients[0], clock.now()
    made, secret = write(lambda: open_feed(actor=_owner(client), label="Phone", now=now), now=now)
    random = school.random
    known = {"feed": made.pk, "secret": secret}
    renew = f"{API}feeds/{made.pk}/renew/"
    shots = [
        Shot(
            operation="fetch",
            path=f"/calendar/{secret}.ics",
            method="GET",
            delay=random.uniform(0, 0.6),
            told=known,
        )
        for _ in range(80)
    ]
    shots += [
        Shot(
            operation="renew",
            path=renew,
            token=client.token,
            headers=ANY_VERSION,
            delay=random.uniform(0.2, 0.6),
            told=known,
        )
        for _ in range(20)
    ]

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        fetched, renewed = hits[:80], hits[80:]
        wrong = expect("renewals", statuses(renewed), {200: 20})
        first_called = min(hit.called for hit in renewed)
        first_done = min(hit.returned for hit in renewed if hit.returned is not None)
        for hit in fetched:
            if hit.returned is not None and hit.returned < first_called:
                wrong += expect("the address before any renewal", hit.status, 200)
            elif hit.called > first_done:
                wrong += expect("the old address after a renewal", hit.status, 404)
            elif hit.status not in {200, 404}:
                wrong.append(f"the address during a renewal: {hit.status}")
        # Renewals take turns on the feed's row: one address is the newest, every other one is
        # nothing.
        paths = {urlsplit(hit.body["address"]).path for hit in renewed if hit.status == 200}
        now_open = [
            ask(port, Shot(operation="fetch", path=path, method="GET")).status for path in paths
        ]
        wrong += expect(
            "addresses that open", (now_open.count(200), now_open.count(404)), (1, len(paths) - 1)
        )
        return wrong

    return Plan(shots=shots, judge=judge)


def _owner(client: Client) -> User:
    user = client.student.user
    if user is None:
        raise ValueError("a client has an account")
    return user


def _admin(
    school: School, operation: str, path: str, body: dict[str, Any], delay: float, **told: Any
) -> Shot:
    told["call_off"] = "call_off_reason" in body
    return Shot(
        operation=operation, path=path, token=school.admin_token, body=body, delay=delay, told=told
    )


def _key(school: School) -> dict[str, str]:
    return {"Idempotency-Key": f'"{UUID(int=school.random.getrandbits(128))}"'}


RACES = [
    Race("R8", "one key, fifty times", one_key, (201, 409)),
    Race("R9", "one key, two bodies", other_body),
    Race("R10", "one version, fifty changes", one_version),
    Race("R12", "days away over meetings that are being booked", days_away),
    Race("R13", "an instructor dismissed while she is booked", dismissal),
    Race("R14", "a feed renewed while it is fetched", feed),
]
