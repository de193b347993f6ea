"""Exchanges of weekly places on the pages of families and of the school."""

import pytest

from bookings.domain.vocabulary import PlanKind, PlanState
from bookings.models import Exchange, Plan
from bookings.pages.plan_ribbon import picture_of
from bookings.queries.planning.exchange_shown import shown_exchanges
from tests.functional.pages.school import as_user, text_of
from tests.school.exchanges import ASKED_AT, ExchangingSchool, open_times

pytestmark = pytest.mark.django_db
OTHERS = ("Marlo", "Vance", "Posy", "Hedda", "Lindqvist")


@pytest.fixture
def school(monkeypatch):
    """The clock of every page and of the solver stands at ASKED_AT."""
    monkeypatch.setattr("bookings.clock.now", lambda: ASKED_AT)
    return ExchangingSchool()


def test_a_family_puts_other_families_times_in_order(school):
    """Each time with its instructor and the reader's clock, and no word of whose it is."""
    noor = as_user(school.noor.user)
    address = f"/weekly/{school.noors.pk}/exchange/"
    page = text_of(noor.get(address))
    assert "Wednesdays 12:00" in page
    assert not any(name in page for name in OTHERS)
    order = {f"rank-{school.marlos.pk}": "2", f"rank-{school.posys.pk}": "1", "version": "0"}
    assert noor.post(address, order).status_code == 302
    wished = school.noors.wish_order.wishes.order_by("rank").values_list("wished", flat=True)
    assert list(wished) == [school.posys.pk, school.marlos.pk]
    assert noor.post(address, order).status_code == 412


def test_two_times_of_one_rank_are_refused_and_what_was_chosen_stays(school):
    """The order is strict."""
    noor = as_user(school.noor.user)
    order = {f"rank-{school.marlos.pk}": "1", f"rank-{school.posys.pk}": "1"}
    answer = noor.post(f"/weekly/{school.noors.pk}/exchange/", order)
    assert answer.status_code == 422
    assert "Two times are choice 1" in text_of(answer)
    assert text_of(answer).count('value="1" selected') == 2


def test_all_families_say_yes_on_their_pages_and_the_places_change_hands(school):
    """A guardian answers for a child; the admin sees how each exchange stands."""
    exchange = school.asked()
    before = open_times(school.term)
    dag = as_user(school.dag)
    assert "Waits for an answer" in text_of(dag.get(f"/plans/{exchange.plan_id}/"))
    readers = {school.noor: school.noor.user, school.marlo: school.marlo.user}
    readers[school.posy] = school.hedda
    for student, reader in readers.items():
        address = f"/exchanges/{school.move_of(student).pk}/"
        browser = as_user(reader)
        page = text_of(browser.get(address))
        others = {one.full_name for one in readers if one != student}
        assert not any(name in page for name in others)
        assert browser.post(address, {"say": "yes", "version": "1"}).status_code == 302
    assert open_times(school.term) != before
    assert Exchange.objects.get().ended_why == "placed"
    assert "changed hands" in text_of(dag.get(f"/plans/{exchange.plan_id}/"))


def test_a_family_says_no_and_its_page_says_how_it_ended(school):
    """The others find the same words, and nobody's name."""
    school.asked()
    noor = as_user(school.noor.user)
    address = f"/exchanges/{school.move_of(school.noor).pk}/"
    assert "An exchange with other families is possible" in text_of(noor.get("/weekly/"))
    noor.post(address, {"say": "no", "version": "1"})
    assert "Not every family said yes" in text_of(noor.get(address))
    assert noor.post(address, {"say": "yes"}).status_code == 409


def test_another_familys_question_is_not_there(school):
    """Not yours and not there look the same, also within one exchange."""
    school.asked()
    answer = as_user(school.marlo.user).get(f"/exchanges/{school.move_of(school.noor).pk}/")
    assert answer.status_code == 404


def test_an_admin_asks_for_the_exchanges_of_a_term(school):
    """The page leads to the plan."""
    school.wish_in_a_circle()
    dag = as_user(school.dag)
    asked = dag.post("/plans/exchanges/", {"term": school.term.pk}, follow=True)
    assert "Exchanges of weekly places" in text_of(asked)


def test_each_day_of_an_exchange_has_a_ribbon_with_the_times_that_are_taken(school):
    """One day a move, on Ilse's clock: the taller the stem, the easier the hour for its family."""
    school.wish_in_a_circle()
    ((exchange, days),) = picture_of(shown_exchanges(school.solved()))
    assert [(day.weekday, day.zone) for day in days] == [
        (move.takes.weekday, "Europe/Dublin")
        for move in sorted(exchange.moves, key=lambda move: move.takes.weekday)
    ]
    for day in days:
        (stem,) = day.ribbon.heads
        (move,) = (one for one in exchange.moves if one.takes.weekday == day.weekday)
        assert stem.y == 52 - 44 * (100 * (20 - move.burden) // 20) // 100


def test_my_lessons_leads_to_exchanging_a_weekly_place_and_to_an_open_question(school):
    """First to the times that could suit; once the family is asked, to its answer."""
    noor = as_user(school.noor.user)
    wish = f'href="/weekly/{school.noors.pk}/exchange/"'
    assert wish in text_of(noor.get("/my-lessons/"))
    school.asked()
    page = text_of(noor.get("/my-lessons/"))
    assert wish not in page
    assert f'href="/exchanges/{school.move_of(school.noor).pk}/"' in page


def test_a_plan_without_anything_to_adopt_is_not_offered_for_adopting(school):
    """It can only be discarded."""
    plan = Plan.objects.create(
        kind=PlanKind.EXCHANGE,
        asked={"term": school.term.pk},
        answer={"orders": 2, "exchanges": [], "left_out": []},
        state=PlanState.READY,
        gap=0,
        made_at=ASKED_AT,
        solved_at=ASKED_AT,
    )
    page = text_of(as_user(school.dag).get(f"/plans/{plan.pk}/"))
    assert "No exchange is possible" in page
    assert f"/plans/{plan.pk}/discard/" in page
    assert f"/plans/{plan.pk}/adopt/" not in page
