"""The emails about exchanges of weekly places."""

from datetime import timedelta

from bookings import notices
from bookings.domain.vocabulary import Ended
from bookings.models import Exchange, ExchangeMove, Plan
from tests.cast import NOW, at
from tests.integration.told_words import LATER, MONDAYS, Told
from tests.school.golden import School


def exchanged(school: School) -> Told:
    """A family is asked, an exchange ends in each way, and places change hands."""
    mine = school.weekly(MONDAYS)
    other = school.weekly(
        [start.replace("T18", "T19").replace("T17", "T18") for start in MONDAYS[1:]], 19 * 60
    )
    other.place.student = school.marlo
    other.place.save()
    plan = Plan.objects.create(kind="exchange", asked={"term": mine.place.term_id}, made_at=NOW)
    exchange = Exchange.objects.create(
        pk=school.key(),
        plan=plan,
        term=mine.place.term,
        made_at=NOW,
        answer_by=at("2027-03-04T13:00Z"),
    )
    moves = [
        ExchangeMove.objects.create(
            pk=school.key(),
            exchange=exchange,
            place=place.place,
            takes=takes.place,
            first_at=at(f"2027-03-15T{hour}:00Z"),
        )
        for place, takes, hour in ((mine, other, 19), (other, mine, 18))
    ]
    yield "exchange_asked", notices.exchange_asked(exchange, moves, now=NOW)
    for why in (Ended.DECLINED, Ended.LAPSED, Ended.LEFT):
        exchange.ended_at, exchange.ended_why = LATER, why
        yield f"exchange_{why}", notices.exchange_ended(exchange, moves, now=LATER)
    left = notices.Left(mine.place, mine.bookings[1:], [])
    begins_on = (LATER + timedelta(days=7)).date()
    yield (
        "places_exchanged",
        notices.places_exchanged([left], [other], begins_on, now=LATER),
    )
