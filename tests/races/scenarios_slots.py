"""Races for an instructor's time: one slot, overlaps, one student in two places, cancel against
move, weekly places.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from accounts.models import Guardianship, Student, User
from bookings.domain.vocabulary import MeetingStatus, Standing
from bookings.models import Booking, Meeting
from tests import cast
from tests.races.drivers import Hit, Shot
from tests.races.plans import (
    Complaints,
    Plan,
    Race,
    among,
    booked,
    cancel,
    expect,
    move,
    refused_well,
    slot,
    statuses,
)
from tests.races.scenarios_weekly import weekly
from tests.races.school import CLIENTS, Client, School, token_of

HALF_HOUR = timedelta(minutes=30)


def live(instructor_id: int) -> int:
    """How many live meetings they have."""
    return (
        Meeting.objects.filter(instructor=instructor_id)
        .exclude(status=MeetingStatus.CANCELLED)
        .count()
    )


def one_slot(school: School, clients: int | None = None) -> Plan:
    """R1. One winner; every loser is told so in the same words and gets three starts nearby."""
    ilse, day = school.instructor(), school.day()
    start = day + timedelta(hours=9) + HALF_HOUR * school.random.randrange(24)
    shots = [
        slot(client, school.consultation, ilse, start)
        for client in school.clients[: clients or CLIENTS]
    ]

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = expect("answers", statuses(hits), {201: 1, 409: len(shots) - 1}) + expect(
            "meetings", live(ilse.pk), 1
        )
        return wrong + among(hits, {"taken"}) + refused_well(hits, near=3)

    return Plan(shots=shots, judge=judge)


def overlaps(school: School, _: object) -> Plan:
    """R3. Fifty-minute meetings that may start every five minutes of six hours; no two of the
    winners overlap.
    """
    ilse, day = school.instructor(school.long_lesson), school.day()
    starts = [
        day + timedelta(hours=10, minutes=5 * school.random.randrange(72)) for _ in range(CLIENTS)
    ]
    shots = [
        slot(client, school.long_lesson, ilse, start)
        for client, start in zip(school.clients, starts, strict=True)
    ]

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        won = sorted(start for hit, start in zip(hits, starts, strict=True) if hit.status == 201)
        close = [f"{a:%H:%M} and {b:%H:%M}" for a, b in pairwise(won) if b - a < timedelta(hours=1)]
        wrong = [f"winners that overlap: {close}"] if close else []
        return (
            wrong
            + expect("meetings", live(ilse.pk), len(won))
            + among(hits, {"taken"})
            + refused_well(hits, near=3)
        )

    return Plan(shots=shots, judge=judge)


def one_student(school: School, _: object) -> Plan:
    """R4. Twenty-five students, each asked for by themselves and by their guardian, with two
    instructors, at one time: one place each.
    """
    pair, day = [school.instructor(), school.instructor()], school.day()
    shots: list[Shot] = []
    wanted: dict[int, datetime] = {}
    for number, client in enumerate(school.clients[:25]):
        guardian = cast.make_user("Hedda Lindqvist-Reed")
        make_minor(client.student, school.now)
        Guardianship.objects.create(
            guardian=guardian,
            student=client.student,
            consent_at=school.now,
            consent_wording="2026-11",
        )
        # Twelve halves of an hour hold 24 of them apart; the last shares theirs, with other rivals.
        start = wanted[client.student.pk] = day + timedelta(hours=9) + HALF_HOUR * (number % 24)
        for asks in (client, Client(client.student, token_of(guardian))):
            shots += [slot(asks, school.consultation, instructor, start) for instructor in pair]
    school.random.shuffle(shots)

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong: Complaints = among(hits, {"taken", "own-clash"})
        for pk, start in wanted.items():
            held = Booking.objects.filter(
                student=pk, standing=Standing.HELD, starts_at=start
            ).count()
            wrong += expect(f"places that student {pk} holds at {start:%H:%M}", held, 1)
        return wrong + expect("winners", statuses(hits)[201], len(wanted))

    return Plan(shots=shots, judge=judge)


def make_minor(student: Student, now: datetime) -> None:
    """Guardians act for a minor alone; on the clock of UTC the day's hours are a minor's."""
    student.adult_on = (now + timedelta(days=3650)).date()
    student.save(update_fields=["adult_on"])
    User.objects.filter(pk=student.user_id).update(time_zone="UTC")


def changes(school: School, _: object) -> Plan:
    """R5. Twelve who hold a time cancel and move to each other's and to the other instructor's
    while sixty-four book.
    """
    pair, day, random = [school.instructor(), school.instructor()], school.day(), school.random
    times = [day + timedelta(hours=9) + HALF_HOUR * i for i in range(12)]
    holders, newcomers = school.clients[:12], school.clients[12:76]
    held = [
        booked(client, school.consultation, pair[i % 2], times[i // 2])
        for i, client in enumerate(holders)
    ]
    shots: list[Shot] = []
    for client, booking in zip(holders, held, strict=True):
        shots.append(cancel(client, booking, delay=random.uniform(0, 0.4)))
        for _ in range(2):
            to = {
                "starts_at": random.choice(times).isoformat(),
                "instructor": random.choice(pair).pk,
            }
            shots.append(move(client, booking, to, delay=random.uniform(0, 0.3)))
    for client in newcomers:
        ilse, start = random.choice(pair), random.choice(times)
        shots.append(slot(client, school.consultation, ilse, start, delay=random.uniform(0, 0.4)))

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = among(hits, {"taken", "own-clash", "already-ended", "conflict"})
        return wrong + [said for hit in hits for said in _not_as_told(hit)]

    return Plan(shots=shots, judge=judge)


def _not_as_told(hit: Hit) -> Complaints:
    """A cancelled booking has ended, and a booking that nobody can have given back is held."""
    if hit.shot.operation == "cancel" and hit.status == 200:
        booking = Booking.objects.get(pk=hit.shot.told.get("booking"))
        return expect("a cancelled booking", booking.standing, Standing.ENDED)
    if hit.shot.operation == "book-slot" and hit.status == 201:
        booking = Booking.objects.get(pk=hit.body["id"])
        return expect("a booking nobody gave back", booking.standing, Standing.HELD)
    return []


RACES = [
    Race("R1", "one slot, a hundred clients", one_slot),
    Race("R3", "staggered starts that overlap", overlaps),
    Race("R4", "one student, two instructors, one time", one_student),
    Race("R5", "book against cancel against move", changes),
    Race("R11", "ten weeks with two instructors, in opposite order", weekly),
]
