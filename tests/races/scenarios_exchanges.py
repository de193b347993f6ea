"""A race for exchanges of weekly places: the last yes, a second yes and a no at once."""

from collections.abc import Sequence
from datetime import timedelta

from accounts.models import Instructor
from bookings import clock
from bookings.domain.vocabulary import Ended, PlanKind
from bookings.door import write
from bookings.models import Booking, Exchange, ExchangeMove, Plan, Term, WeeklyPlace
from bookings.operations.terms import publish_term
from bookings.operations.weekly import take_weekly_place
from tests.races.drivers import Hit, Shot
from tests.races.plans import ANY_VERSION, API, Complaints, Race, among, expect
from tests.races.plans import Plan as RacePlan
from tests.races.school import Client, School

EXCHANGES, WEEKS = 10, 3
MONDAY, TUESDAY = 0, 1


def exchanges(school: School, _: object) -> RacePlan:
    """R21. Ten pairs of families have been asked to exchange their weekly places: each family says
    yes twice at once, and in most pairs one says no. All lessons change hands, or none.
    """
    ilse, term = school.instructor(school.lesson), _three_weeks(school)
    made, shots = [], []
    for number in range(EXCHANGES):
        pair = school.newcomers(2)
        exchange = _asked(school, ilse, term, pair, number)
        made.append(exchange)
        moves = exchange.moves.order_by("pk")
        for client, move in zip(pair, moves, strict=True):
            shots += [_says(school, "accept", client, move) for _ in range(2)]
        if number % 5:
            shots.append(_says(school, "decline", pair[number % 2], moves[number % 2]))
    school.random.shuffle(shots)

    def judge(hits: Sequence[Hit], port: int) -> Complaints:
        wrong = among(hits, {"offer-ended"})
        return wrong + [said for one in made for said in _half_exchanged(one)]

    return RacePlan(shots=shots, judge=judge)


def _three_weeks(school: School) -> Term:
    """From the next Monday in the stretch that is read, whichever weekday the race is run on."""
    day, now = school.day().date(), clock.now()
    first_on = day + timedelta(days=-day.weekday() % 7)
    return write(
        lambda: publish_term(
            actor=school.admin,
            name=f"Term {Term.objects.count() + 1} of exchanges",
            first_on=first_on,
            last_on=first_on + timedelta(weeks=WEEKS) - timedelta(days=1),
            lessons_promised=WEEKS,
            now=now,
        ),
        now=now,
    )


def _asked(
    school: School, ilse: Instructor, term: Term, pair: Sequence[Client], number: int
) -> Exchange:
    """One has a time on Mondays and the other the same one on Tuesdays; both have been asked."""
    places = [
        _place(school, ilse, term, client, weekday, 600 + 30 * number)
        for client, weekday in zip(pair, (MONDAY, TUESDAY), strict=True)
    ]
    at = {"made_at": clock.now(), "solved_at": clock.now(), "ended_at": clock.now()}
    said = {"orders": 2, "exchanges": [], "left_out": []}
    asked = {"kind": PlanKind.EXCHANGE, "asked": {"term": term.pk}, "state": "ADOPTED"}
    plan = Plan.objects.create(**asked, answer=said, gap=0, **at)
    until = clock.now() + timedelta(days=2)
    exchange = Exchange.objects.create(plan=plan, term=term, made_at=clock.now(), answer_by=until)
    first_at = clock.now() + timedelta(days=8)
    for place, takes in (places, places[::-1]):
        exchange.moves.create(place=place, takes=takes, first_at=first_at)
    return exchange


def _place(
    school: School, ilse: Instructor, term: Term, client: Client, weekday: int, wall_at: int
) -> WeeklyPlace:
    now = clock.now()
    return write(
        lambda: take_weekly_place(
            actor=school.admin,
            student=client.student,
            instructor=ilse,
            offering=school.lesson,
            term=term,
            weekday=weekday,
            wall_at=wall_at,
            now=now,
        ),
        now=now,
    )


def _says(school: School, verb: str, client: Client, move: ExchangeMove) -> Shot:
    """Yes or no, whatever the version."""
    return Shot(
        operation="say-yes" if verb == "accept" else "say-no",
        path=f"{API}exchanges/{move.pk}/{verb}/",
        token=client.token,
        headers=ANY_VERSION,
        student=client.student.pk,
        told={"exchange": move.exchange_id, "move": move.pk},
        delay=school.random.uniform(0, 0.2) + (0.1 if verb == "decline" else 0.0),
    )


def _half_exchanged(exchange: Exchange) -> Complaints:
    """Each family has one weekly place with all its lessons: the other's, or else its own."""
    exchange.refresh_from_db()
    is_placed = exchange.ended_why == Ended.PLACED
    wrong = [] if exchange.ended_at else [f"exchange {exchange.pk} is still open"]
    for move in exchange.moves.select_related("place__student", "takes"):
        wanted = move.takes if is_placed else move.place
        open_ones = WeeklyPlace.objects.not_ended().filter(student=move.place.student)
        at = list(open_ones.values_list("weekday", "wall_at"))
        wrong += expect(f"places of {move.pk}", at, [(wanted.weekday, wanted.wall_at)])
        held = Booking.objects.held().of(move.place.student)
        lessons = held.filter(meeting__weekly_place__in=open_ones).count()
        wrong += expect(f"lessons of {move.pk}", (held.count(), lessons), (WEEKS, WEEKS))
    return wrong


RACES = [Race("R21", "exchanges agreed to and declined at once", exchanges)]
