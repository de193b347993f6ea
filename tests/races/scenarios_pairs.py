"""A race for two lessons of a family that are next to each other and move together."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from accounts.models import Guardianship, Instructor
from bookings.domain.vocabulary import Standing
from bookings.models import Booking
from tests import cast
from tests.races.drivers import Hit, Shot
from tests.races.plans import (
    ANY_VERSION,
    API,
    Complaints,
    Plan,
    Race,
    among,
    booked,
    cancel,
    expect,
    move,
    slot,
)
from tests.races.scenarios_slots import HALF_HOUR, make_minor
from tests.races.school import Client, School, token_of

FAMILIES, RIVALS = 8, 40
Pair = list[Booking]


def pairs(school: School, _: object) -> Plan:
    """R22. Eight guardians move the lessons of two children together, each twice, to times that
    others move to or book; one in four moves or cancels one of the two by itself.
    """
    ilse, wren, day = school.instructor(), school.instructor(), school.day()
    times = [day + timedelta(hours=9) + HALF_HOUR * i for i in range(24)]
    made = [_family(school, number, (ilse, wren)[number % 2], times) for number in range(FAMILIES)]
    shots: list[Shot] = []
    for number, (clients, pair) in enumerate(made):
        for _turn in range(2):
            # The sibling follows within the teaching hours.
            to, late = school.random.choice(times[:-1]), school.random.uniform(0, 0.3)
            shots.append(_together(clients[0], pair, to, school.random.choice((ilse, wren)), late))
        alone = {"starts_at": school.random.choice(times).isoformat()}
        if number % 4 == 0:
            shots.append(move(clients[1], pair[1], alone, delay=school.random.uniform(0, 0.3)))
        if number % 4 == 2:
            shots.append(cancel(clients[1], pair[1], delay=school.random.uniform(0.1, 0.3)))
    for client in school.clients[:RIVALS]:
        teacher, start = school.random.choice((ilse, wren)), school.random.choice(times)
        wants = slot(client, school.consultation, teacher, start)
        shots.append(wants)
    school.random.shuffle(shots)

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = among(hits, {"taken", "own-clash", "already-ended", "conflict"})
        return wrong + [said for clients, pair in made for said in _torn(pair, hits)]

    return Plan(shots=shots, judge=judge)


def _family(
    school: School, number: int, taught_by: Instructor, times: Sequence[datetime]
) -> tuple[list[Client], Pair]:
    """Two children of one guardian, whose lessons are one after the other."""
    guardian = cast.make_user("Hedda Lindqvist-Reed")
    clients, pair = [], []
    for child, start in zip(school.newcomers(2), times[number // 2 * 2 :], strict=False):
        pair.append(booked(child, school.consultation, taught_by, start))
        make_minor(child.student, school.now)
        Guardianship.objects.create(
            guardian=guardian,
            student=child.student,
            consent_at=school.now,
            consent_wording="2026-11",
        )
        clients.append(Client(child.student, token_of(guardian)))
    return clients, pair


def _together(
    client: Client, pair: Pair, to: datetime, taught_by: Instructor, delay: float
) -> Shot:
    """The guardian moves both, whatever the version."""
    lesson, sibling = pair
    body = {
        "starts_at": to.isoformat(),
        "instructor": taught_by.pk,
        "with_sibling": sibling.pk,
    }
    return Shot(
        operation="move-pair",
        path=f"{API}bookings/{lesson.pk}/move/",
        token=client.token,
        body=body,
        headers=ANY_VERSION,
        told={"booking": lesson.pk},
        student=client.student.pk,
        delay=delay,
    )


def _torn(pair: Pair, hits: Sequence[Hit]) -> Complaints:
    """Two lessons that nobody moved or cancelled alone are still one after the other."""
    ids = [booking.pk for booking in pair]
    alone = any(
        hit.shot.operation in ("move", "cancel") and hit.shot.told.get("booking") in ids
        for hit in hits
    )
    if alone:
        return []
    rows = list(Booking.objects.filter(pk__in=ids, standing=Standing.HELD).order_by("pk"))
    teachers = {row.meeting.instructor_id for row in rows}
    steps = [rows[1].starts_at - rows[0].starts_at] if len(rows) == 2 else []
    return expect(f"steps and teachers of {ids}", (steps, len(teachers)), ([HALF_HOUR], 1))


RACES = [Race("R22", "siblings' lessons moved together", pairs)]
