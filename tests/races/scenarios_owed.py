"""Races for what the school owes: two admins settle it, and its make-up is booked twice."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from bookings import clock
from bookings.door import write
from bookings.models import AuditRow, Booking, OutboxMessage, OwedLesson, Term
from bookings.operations.owed import carry_in, lapse_owed
from tests import cast
from tests.races.drivers import Hit, Shot
from tests.races.plans import ANY_VERSION, API, Complaints, Plan, Race, among, expect, slot
from tests.races.scenarios_proposals import family
from tests.races.scenarios_slots import HALF_HOUR
from tests.races.school import School, token_of

COUNT = 15
SETTLING = ("settle", "carry")


def two_admins(school: School, _: object) -> Plan:
    """R16. Two admins settle, carry and extend each of fifteen owed lessons at once, a third of
    them by the version that both have read; another third has lapsed.
    """
    there, after = _terms(school)
    tokens = [school.admin_token, token_of(cast.make_admin("Ida Quince"))]
    owed = [
        _owed_to(school, client.student, there, lapsed=number % 3 == 2)
        for number, client in enumerate(school.newcomers(COUNT))
    ]
    shots = []
    for number, one in enumerate(owed):
        tag = f'"owed-lesson-{one.pk}-{one.version}"' if number % 3 == 1 else "*"
        for turn, token in enumerate(tokens):
            for verb in (*SETTLING, "extend"):
                until = one.use_by + timedelta(days=30 + turn)
                shots.append(_decides(school, verb, one, token, tag, after, until))
    school.random.shuffle(shots)
    since = clock.now()

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = among(hits, {"owed-settled", "stale"})
        return wrong + [said for one in owed for said in _settled_otherwise(one, hits, since)]

    return Plan(shots=shots, judge=judge)


def _settled_otherwise(owed: OwedLesson, hits: Sequence[Hit], since: datetime) -> Complaints:
    """As many rows, audit rows and emails as answers that settled it: one, or none where an
    extension made both stale or nobody extended what had lapsed.
    """
    own = [hit for hit in hits if hit.shot.told.get("owed_lesson") == owed.pk]
    yes = [hit for hit in own if hit.status == 200]
    settled = [hit for hit in yes if hit.shot.operation in SETTLING]
    carried = [hit for hit in settled if hit.shot.operation == "carry"]
    wrong = [] if len(yes) > 0 and len(settled) <= 1 else [f"{len(settled)} settled {owed.pk}"]
    rows = OwedLesson.objects.filter(carried_from=owed)
    wrong += expect(f"rows carried from {owed.pk}", rows.count(), len(carried))
    audited = AuditRow.objects.filter(thing="owedlesson", thing_id=owed.pk)
    said = audited.filter(verb__in=("by hand", "carried out"))
    wrong += expect(f"audit rows that settle {owed.pk}", said.count(), len(settled))
    keys = [f"owed-lesson:{pk}" for pk in (owed.pk, *rows.values_list("pk", flat=True))]
    told = OutboxMessage.objects.filter(subject_key__in=keys, made_at__gte=since)
    return wrong + expect(f"emails about {owed.pk}", told.count(), len(yes))


def made_up_twice(school: School, _: object) -> Plan:
    """R17. Two guardians of each of fifteen children book its make-up, at two starts and with two
    instructors, while an admin settles it: one of the five has it.
    """
    pair, day = [school.instructor(school.lesson), school.instructor(school.lesson)], school.day()
    there, _after = _terms(school)
    owed: list[OwedLesson] = []
    shots: list[Shot] = []
    for number, client in enumerate(school.newcomers(COUNT)):
        one = _owed_to(school, client.student, there)
        owed.append(one)
        start = day + timedelta(hours=9 + number // 2)  # two families want each hour
        for later, guardian in enumerate(family(school, client.student)):
            for instructor in pair:
                asks = slot(guardian, school.lesson, instructor, start + later * HALF_HOUR)
                body = {**(asks.body or {}), "owed_lesson": one.pk}
                shots.append(replace(asks, body=body, delay=school.random.uniform(0, 0.2)))
        settles = _decides(school, "settle", one, school.admin_token)
        shots.append(replace(settles, delay=school.random.uniform(0.1, 0.3)))
    school.random.shuffle(shots)

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = among(hits, {"owed-settled", "taken", "own-clash"})
        for one in owed:
            one.refresh_from_db()
            ways = Booking.objects.filter(makes_up=one).count() + one.is_closed
            wrong += expect(f"ways in which owed lesson {one.pk} was settled", ways, 1)
        done = sum(hit.status in {200, 201} for hit in hits)
        return wrong + expect("answers that settled one", done, COUNT)

    return Plan(shots=shots, judge=judge)


def _terms(school: School) -> tuple[Term, Term]:
    """The term in which lessons are owed, and the one after it."""
    first = school.now.date()
    found = []
    for number, name in enumerate(("Owed lessons", "After it")):
        begins = first + timedelta(days=91 * number)
        dates = {"first_on": begins, "last_on": begins + timedelta(days=90)}
        term, _ = Term.objects.get_or_create(name=name, defaults=dates | {"lessons_promised": 10})
        found.append(term)
    return found[0], found[1]


def _owed_to(school: School, student: Any, term: Term, *, lapsed: bool = False) -> OwedLesson:
    """A lesson that is owed from before the race; or was, until it lapsed."""
    now = clock.now()
    owed = write(
        lambda: carry_in(
            actor=school.admin,
            student=student,
            offering=school.lesson,
            term=term,
            use_by=school.now.date() + timedelta(days=90),
            reason="Owed since autumn.",
            now=now,
        ),
        now=now,
    )
    if lapsed:
        passed = school.now.date() - timedelta(days=3)
        OwedLesson.objects.filter(pk=owed.pk).update(use_by=passed)
        write(lambda: lapse_owed(now=now), now=now)
        owed.refresh_from_db()
    return owed


def _decides(
    school: School,
    verb: str,
    owed: OwedLesson,
    token: str,
    tag: str = "*",
    term: Term | None = None,
    use_by: date | None = None,
) -> Shot:
    """An admin decides about it; the term and the date are for what the verb needs."""
    body: dict[str, object] = {"reason": "Agreed with the family."}
    if use_by is not None and verb != "settle":
        later = max(use_by, school.now.date() + timedelta(days=30))
        body["use_by"] = later.isoformat()
    if term is not None and verb == "carry":
        body["term"] = term.pk
    return Shot(
        operation=verb,
        path=f"{API}owed-lessons/{owed.pk}/{verb}/",
        token=token,
        body=body,
        headers=ANY_VERSION | {"If-Match": tag},
        told={"owed_lesson": owed.pk},
        student=owed.student_id,
    )


RACES = [
    Race("R16", "two admins settle one owed lesson", two_admins),
    Race("R17", "a make-up booked twice, and settled by an admin", made_up_twice),
]
