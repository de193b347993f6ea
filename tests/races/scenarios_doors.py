"""Races at the doors: one key, one version, an instructor who goes away or leaves, a feed's
address.
"""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any
from urllib.parse import urlsplit
from uuid import UUID

from accounts.models import User
from bookings import clock
from bookings.door import write
from bookings.models import Booking
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
    slot,
    statuses,
)
from tests.races.scenarios_gone import days_away, dismissal
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


def feed(school: School, _: object) -> Plan:
    """R14. A feed's address is renewed twenty times while eighty fetch the one they know: from the
    first renewal on it is nothing.
    """
    school.day()
    client, now, random = school.clients[0], clock.now(), school.random
    made, secret = write(lambda: open_feed(actor=_owner(client), label="Phone", now=now), now=now)
    known = {"feed": made.pk, "secret": secret}
    shots = [_fetch(f"/calendar/{secret}.ics", random.uniform(0, 0.6), **known) for _ in range(80)]
    shots += [
        Shot(
            operation="renew",
            path=f"{API}feeds/{made.pk}/renew/",
            token=client.token,
            headers=ANY_VERSION,
            delay=random.uniform(0.2, 0.6),
            told=known,
        )
        for _ in range(20)
    ]

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        fetched, renewed = hits[:80], hits[80:]
        return (
            expect("renewals", statuses(renewed), {200: 20})
            + _wrong_fetches(fetched, renewed)
            + _wrong_addresses(renewed, port)
        )

    return Plan(shots=shots, judge=judge)


def _fetch(path: str, delay: float = 0.0, **told: Any) -> Shot:
    return Shot(operation="fetch", path=path, method="GET", delay=delay, told=told)


def _wrong_fetches(fetched: Sequence[Hit], renewed: Sequence[Hit]) -> Complaints:
    """The old address opens before the first renewal and not after it; meanwhile either is true."""
    wrong: Complaints = []
    first_called = min(hit.called for hit in renewed)
    first_done = min(hit.returned for hit in renewed if hit.returned is not None)
    for hit in fetched:
        if hit.returned is not None and hit.returned < first_called:
            wrong += expect("the address before any renewal", hit.status, 200)
        elif hit.called > first_done:
            wrong += expect("the old address after a renewal", hit.status, 404)
        elif hit.status not in {200, 404}:
            wrong.append(f"the address during a renewal: {hit.status}")
    return wrong


def _wrong_addresses(renewed: Sequence[Hit], port: int) -> Complaints:
    """Renewals take turns on the feed's row: one address is the newest, every other is nothing."""
    paths = {urlsplit(hit.body["address"]).path for hit in renewed if hit.status == 200}
    answers = [ask(port, _fetch(path)).status for path in paths]
    counted = answers.count(200), answers.count(404)
    return expect("addresses that open", counted, (1, len(paths) - 1))


def _owner(client: Client) -> User:
    user = client.student.user
    if user is None:
        raise ValueError("a client has an account")
    return user


def _key(school: School) -> dict[str, str]:
    return {"Idempotency-Key": f'"{UUID(int=school.random.getrandbits(128))}"'}


RACES = [
    Race("R8", "one key, fifty times", one_key, (201, 409)),
    Race("R9", "one key, two bodies", other_body),
    Race("R10", "one version, fifty changes", one_version),
    Race("R12", "days away over meetings that are being booked", days_away),
    Race("R13", "an instructor dismissed while others book", dismissal),
    Race("R14", "a feed renewed while it is fetched", feed),
]
