"""Races for the places of group meetings: so many and no more, the queue in its order, an offer at
its last instant.
"""

import time
from collections.abc import Sequence
from datetime import timedelta

from bookings import clock
from bookings.domain.vocabulary import Ended, Standing
from bookings.door import write
from bookings.models import LIVE, Booking, Meeting, WaitingPlace
from bookings.operations.offers import lapse_offers
from bookings.operations.places import leave_place
from tests.races.drivers import Hit, Shot
from tests.races.plans import (
    ANY_VERSION,
    API,
    Complaints,
    Plan,
    Race,
    accept,
    among,
    cancel,
    expect,
    place,
    placed,
    refused_well,
    statuses,
    waits,
)
from tests.races.school import CLIENTS, Client, School


def counted(meeting: Meeting, places: int | None = None) -> Complaints:
    """The counter equals the rows, and both stay within the places; exactly `places` where that is
    asked.
    """
    meeting.refresh_from_db()
    rows = Booking.objects.filter(meeting=meeting, standing__in=LIVE).count()
    wrong = expect("the counter beside the rows", meeting.taken, rows)
    if rows > meeting.places:
        wrong.append(f"{rows} live bookings in {meeting.places} places")
    return wrong + (expect("live bookings", rows, places) if places is not None else [])


def places(school: School, count: int) -> Plan:
    """R2. A hundred for so many places: exactly that many get one."""
    meeting = school.meeting(school.instructor(), school.day() + timedelta(hours=12), count)
    shots = [place(client, meeting) for client in school.clients]

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = expect("answers", statuses(hits), {201: count, 409: CLIENTS - count})
        return wrong + among(hits, {"no-place"}) + refused_well(hits) + counted(meeting, count)

    return Plan(shots=shots, judge=judge)


def storm(school: School, _: object) -> Plan:
    """R6. Forty leave while fifty wait, ten of whom give up, and ten strangers try to get in:
    offers go to the first who still wait.
    """
    meeting = school.meeting(school.instructor(), school.day() + timedelta(hours=12), 40)
    holders, queue, strangers = school.clients[:40], school.clients[40:90], school.clients[90:]
    held = [placed(client, meeting) for client in holders]
    for client in queue:
        waits(client, meeting)
    random = school.random
    shots = [
        cancel(client, booking, delay=random.uniform(0, 0.5))
        for client, booking in zip(holders, held, strict=True)
    ]
    shots += [
        _leave_list(client, meeting, random.uniform(0, 0.5)) for client in random.sample(queue, 10)
    ]
    shots += [place(client, meeting, delay=random.uniform(0, 0.5)) for client in strangers]

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        cancelled = sum(hit.status == 200 for hit in hits if hit.shot.operation == "cancel")
        return (
            among(hits, {"no-place"})
            + counted(meeting, 40)
            + expect("cancelled", cancelled, 40)
            + expect("strangers who got in", statuses(hits)[201], 0)
            + _wrong_offers(meeting)
        )

    return Plan(shots=shots, judge=judge)


def _leave_list(client: Client, meeting: Meeting, delay: float) -> Shot:
    return Shot(
        operation="leave-list",
        path=f"{API}meetings/{meeting.pk}/waiting-list/?as=player",
        method="DELETE",
        token=client.token,
        student=client.student.pk,
        delay=delay,
        told={"meeting": meeting.pk, "as": "player"},
    )


def _wrong_offers(meeting: Meeting) -> Complaints:
    """Forty still wait, and the forty offers are theirs."""
    line = list(WaitingPlace.objects.filter(meeting=meeting).order_by("joined_at", "id"))
    left = [row for row in line if row.ended_at is None]
    offers = Booking.objects.filter(meeting=meeting, standing=Standing.OFFERED)
    offered = set(offers.values_list("waiting_place", flat=True))
    return expect("those who wait", len(left), 40) + expect(
        "offers, first in line first", offered, {row.pk for row in left[:40]}
    )


def fewer(school: School, _: object) -> Plan:
    """R7. Sixty places, eighty who book, and an admin who lowers and raises the number twenty times
    meanwhile.
    """
    meeting = school.meeting(school.instructor(), school.day() + timedelta(hours=12), 60)
    random = school.random
    shots = [place(client, meeting, delay=random.uniform(0, 0.5)) for client in school.clients[:80]]
    for _turn in range(20):
        wanted = random.randrange(5, 60)
        shots.append(
            Shot(
                operation="places",
                path=f"{API}meetings/{meeting.pk}/",
                method="PATCH",
                token=school.admin_token,
                body={"places": wanted},
                headers=ANY_VERSION,
                delay=random.uniform(0, 0.5),
                told={"meeting": meeting.pk},
            )
        )

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        won = sum(hit.status == 201 for hit in hits)
        return (
            among(hits, {"no-place", "has-bookings"}) + refused_well(hits) + counted(meeting, won)
        )

    return Plan(shots=shots, judge=judge)


def last_instant(school: School, _: object) -> Plan:
    """R15. Ten offers end in the middle of a burst of yeses while another process lets them lapse:
    one or the other, and no place lost.
    """
    meeting = school.meeting(school.instructor(), school.day() + timedelta(hours=12), 10)
    queue = school.clients[10:40]
    offers = _offers_made(school, meeting, queue)
    asked = [client for client in queue if client.student.pk in offers]
    random = school.random
    shots = [
        accept(client, offers[client.student.pk], delay=random.uniform(0.2, 1.0))
        for client in asked
        for _ in range(8)
    ]

    def meanwhile(first: float) -> None:
        ends = clock.now() + timedelta(seconds=first - time.monotonic() + 0.6)
        Booking.objects.filter(pk__in=[offer.pk for offer in offers.values()]).update(
            answer_by=ends
        )
        while time.monotonic() < first + 1.5:
            _lapse()
            time.sleep(0.03)

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        _lapse()
        wrong = expect("offers at first", len(offers), 10)
        wrong += among(hits, {"offer-ended"}) + counted(meeting, 10)
        return wrong + [said for offer in offers.values() for said in _wrong_fate(offer, hits)]

    return Plan(shots=shots, judge=judge, meanwhile=meanwhile)


def _offers_made(school: School, meeting: Meeting, queue: Sequence[Client]) -> dict[int, Booking]:
    """Ten hold its places, the queue waits, and the ten are removed: the offers, by student."""
    held = [placed(client, meeting) for client in school.clients[:10]]
    for client in queue:
        waits(client, meeting)
    now, why = clock.now(), "moved away"
    for booking in held:
        write(
            lambda booking=booking: leave_place(
                actor=school.admin, booking=booking, reason=why, now=now
            ),
            now=now,
        )
    offered = Booking.objects.filter(meeting=meeting, standing=Standing.OFFERED)
    return {offer.student_id: offer for offer in offered}


def _lapse() -> None:
    now = clock.now()
    write(lambda: lapse_offers(now=now), now=now)


def _wrong_fate(offer: Booking, hits: Sequence[Hit]) -> Complaints:
    """Accepted by one yes, or lapsed with none."""
    offer.refresh_from_db()
    yes = sum(hit.status == 200 for hit in hits if hit.shot.told.get("booking") == offer.pk)
    fate = (offer.standing, offer.ended_why, yes)
    if fate in {(Standing.HELD, "", 1), (Standing.ENDED, Ended.LAPSED, 0)}:
        return []
    return [f"offer {offer.pk} is {fate[0]} {fate[1]} after {yes} yeses that were taken"]


RACES = [
    Race("R2", "so many places, a hundred clients", places, (1, 12, 50)),
    Race("R6", "a storm of cancellations over a waiting list", storm),
    Race("R7", "places lowered while they are booked", fewer),
    Race("R15", "an offer accepted at the instant it ends", last_instant),
]
