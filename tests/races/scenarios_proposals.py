"""Races for proposed times: two guardians, the instructor, and families who want the hour."""

import time
from collections.abc import Sequence
from datetime import datetime, timedelta

from accounts.models import Guardianship, Instructor, Student
from bookings import clock
from bookings.domain.vocabulary import Ended, Standing
from bookings.door import write
from bookings.models import Booking, ProposedTimes
from bookings.operations.proposed_times import lapse_proposals
from bookings.queries.proposed_times import times_of
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
    refused_well,
    slot,
)
from tests.races.proposing import answer, asked_to_move, declines, propose, proposed, take
from tests.races.scenarios_slots import HALF_HOUR, make_minor
from tests.races.school import Client, School, token_of

FAMILIES = 12


def answers(school: School) -> Plan:
    """Two guardians take the same time and different ones, decline, and the instructor takes the
    times back, while forty others want them.
    """
    pair, families, starts = _at_school(school)
    open_ones = [
        proposed(school, pair[i % 2], family[0].student, _three(starts, i))
        for i, family in enumerate(families)
    ]
    shots: list[Shot] = []
    for i, (proposal, (first, second)) in enumerate(zip(open_ones, families, strict=True)):
        times = times_of(proposal)
        shots += [take(first, proposal, times[0]), take(second, proposal, times[0])]
        shots.append(take(second, proposal, times[1]))
        if i % 3 == 0:
            shots.append(answer("decline", second, proposal))
        if i % 3 == 1:
            taught = Client(proposal.student, token_of(proposal.instructor.user))
            shots.append(answer("withdraw", taught, proposal))
    shots += _who_want(school, pair, starts)

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = among(hits, {"offer-ended", "taken"}) + refused_well(hits)
        return wrong + [said for one in open_ones for said in _wrong_end(one, hits)]

    return Plan(shots=shots, judge=judge)


def last_instant(school: School) -> Plan:
    """Twelve proposals end in the middle of a burst of answers while another process lets them
    lapse, and others want their times.
    """
    pair, families, starts = _at_school(school)
    random = school.random
    open_ones = [
        proposed(school, pair[i % 2], family[0].student, _three(starts, i))
        for i, family in enumerate(families)
    ]
    shots = [
        take(guardian, proposal, times_of(proposal)[n], delay=random.uniform(0.2, 1.0))
        for proposal, family in zip(open_ones, families, strict=True)
        for guardian in family
        for n in range(2)
    ]
    shots += _who_want(school, pair, starts, latest=1.2)

    def meanwhile(first: float) -> None:
        ends = clock.now() + timedelta(seconds=first - time.monotonic() + 0.6)
        ProposedTimes.objects.filter(pk__in=[one.pk for one in open_ones]).update(answer_by=ends)
        while time.monotonic() < first + 1.5:
            _lapse()
            time.sleep(0.03)

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        _lapse()
        wrong = among(hits, {"offer-ended", "taken"})
        return wrong + [said for one in open_ones for said in _wrong_end(one, hits)]

    return Plan(shots=shots, judge=judge, meanwhile=meanwhile)


def wanted(school: School) -> Plan:
    """Times are proposed, twice to each student, while sixty others book them: no student has more
    than three open.
    """
    pair, families, starts = _at_school(school)
    shots = [
        propose(school, family[0].student, school.random.sample(starts, 2), instructor=pair[i % 2])
        for i, family in enumerate(families)
        for _ in range(2)
    ]
    shots += _who_want(school, pair, starts, count=60)

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = among(hits, {"taken", "limit-reached"})
        for family in families:
            count = Booking.objects.proposed().of(family[0].student).count()
            wrong += [] if count <= 3 else [f"{count} times are open to {family[0].student}"]
        return wrong

    return Plan(shots=shots, judge=judge)


def moves(school: School) -> Plan:
    """A request to move is answered with other times, and one of them is taken, while the family
    cancels; a lesson that the school has booked is declined and cancelled at once.
    """
    pair, families, starts = _at_school(school)
    shots: list[Shot] = []
    for i, (first, second) in enumerate(families):
        ilse, (own, *others) = pair[i % 2], _three(starts, i)
        lesson = booked(first, school.consultation, ilse, own)
        shots.append(cancel(second, lesson, delay=school.random.uniform(0, 0.3)))
        if i % 3 == 0:
            _may_be_declined(lesson)
            shots += [declines(first, lesson), declines(second, lesson)]
            continue
        request = asked_to_move(first, lesson, others[0])
        if i % 3 == 1:
            instead = {"request": request, "lesson": lesson}
            shots += [propose(school, first.student, others, **instead) for _ in range(2)]
            continue
        proposal = proposed(school, ilse, first.student, others, request=request)
        times = times_of(proposal)
        shots += [take(first, proposal, times[0]), take(second, proposal, times[1])]
        shots.append(answer("decline", second, proposal))
    shots += _who_want(school, pair, starts)

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        return among(hits, {"offer-ended", "taken", "already-ended", "already-done", "own-clash"})

    return Plan(shots=shots, judge=judge)


def _at_school(
    school: School,
) -> tuple[list[Instructor], list[tuple[Client, Client]], list[datetime]]:
    """Two instructors, families of a child with two guardians each, and the starts of a day."""
    pair, day = [school.instructor(), school.instructor()], school.day()
    families = [family(school, client.student) for client in school.newcomers(FAMILIES)]
    return pair, families, [day + timedelta(hours=9) + HALF_HOUR * i for i in range(18)]


def family(school: School, student: Student) -> tuple[Client, Client]:
    make_minor(student, school.now)
    both = [cast.make_user("Hedda Lindqvist-Reed"), cast.make_user("Anselm Lindqvist-Reed")]
    for guardian in both:
        Guardianship.objects.create(
            guardian=guardian,
            student=student,
            consent_at=school.now,
            consent_wording="2026-11",
        )
    student.refresh_from_db()
    first, second = (Client(student, token_of(guardian)) for guardian in both)
    return first, second


def _three(starts: Sequence[datetime], number: int) -> list[datetime]:
    """Three starts that no other family of the same instructor has."""
    return [starts[number // 2 + 6 * i] for i in range(3)]


def _who_want(
    school: School,
    pair: Sequence[Instructor],
    starts: Sequence[datetime],
    *,
    count: int = 40,
    latest: float = 0.4,
) -> list[Shot]:
    """Other families book the same hours."""
    random = school.random
    return [
        slot(
            client,
            school.consultation,
            random.choice(pair),
            random.choice(starts),
            delay=random.uniform(0, latest),
        )
        for client in school.clients[:count]
    ]


def _may_be_declined(lesson: Booking) -> None:
    """As if the school had booked it."""
    Booking.objects.filter(pk=lesson.pk).update(decline_by=clock.now() + timedelta(hours=20))


def _lapse() -> None:
    now = clock.now()
    write(lambda: lapse_proposals(now=now), now=now)


def _wrong_end(proposal: ProposedTimes, hits: Sequence[Hit]) -> Complaints:
    """Taken by one answer, with one lesson; or ended by one answer or none, with no lesson."""
    proposal.refresh_from_db()
    own = [hit for hit in hits if hit.shot.told.get("proposal") == proposal.pk]
    yes = [hit for hit in own if hit.status == 200]
    took = [hit for hit in yes if hit.shot.operation == "take"]
    held = Booking.objects.held().filter(proposed=proposal).count()
    still = Booking.objects.filter(proposed=proposal, standing=Standing.OFFERED).count()
    lapsed = proposal.ended_why == Ended.LAPSED
    wrong = expect(f"answers taken for proposal {proposal.pk}", len(yes), 0 if lapsed else 1)
    wrong += expect("lessons of it", held, len(took))
    return wrong + expect("times of it that are still open", still, 0)


VARIANTS = {
    "answers": answers,
    "wanted": wanted,
    "moves": moves,
    "last instant": last_instant,
}


def proposals(school: School, variant: str) -> Plan:
    """R19."""
    return VARIANTS[variant](school)


RACES = [Race("R19", "proposed times", proposals, tuple(VARIANTS))]
