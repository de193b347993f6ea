"""Exchanges of weekly places: wished for, found, asked, and done together or not at all."""

from datetime import date, timedelta

import pytest

from bookings.door import write
from bookings.models import Exchange, OutboxMessage, PlaceWish, WishOrder
from bookings.operations.exchanges import lapse_exchanges
from bookings.operations.leaving import dismiss_instructor
from bookings.operations.weekly import leave_weekly_place
from bookings.queries.places_audit import findings
from bookings.queries.wishes import other_times
from tests import cast
from tests.integration.nothing_written import refused
from tests.school.exchanges import (
    ASKED_AT,
    SAID_AT,
    THURSDAY,
    TUESDAY,
    WEDNESDAY,
    ExchangingSchool,
    held_on,
    open_times,
)

pytestmark = pytest.mark.django_db
BEFORE = {"Noor": (TUESDAY, 990), "Marlo": (WEDNESDAY, 1020), "Posy": (THURSDAY, 1050)}
AFTER = {"Noor": (WEDNESDAY, 1020), "Marlo": (THURSDAY, 1050), "Posy": (TUESDAY, 990)}


@pytest.fixture
def school(monkeypatch):
    """The clock of the solver stands at ASKED_AT."""
    monkeypatch.setattr("bookings.clock.now", lambda: ASKED_AT)
    return ExchangingSchool()


def told(kind="told", since=ASKED_AT):
    """Who was written to, and in how many emails each."""
    rows = OutboxMessage.objects.filter(kind=kind, made_at__gte=since)
    names = list(rows.values_list("recipient__name", flat=True))
    return {name: names.count(name) for name in names}


def leave(school, place, now=SAID_AT):
    return write(lambda: leave_weekly_place(actor=school.dag, place=place, now=now), now=now)


def test_three_families_each_take_what_the_next_one_leaves(school):
    """All three say yes; every place changes hands in one act, and the lessons of the week that has
    begun stay.
    """
    school.asked()
    assert open_times(school.term) == BEFORE
    school.say_yes(school.noor)
    school.say_yes(school.marlo)
    assert open_times(school.term) == BEFORE
    school.say_yes(school.posy)
    assert open_times(school.term) == AFTER
    assert Exchange.objects.get().ended_why == "placed"
    assert held_on(school.posy)[:3] == [date(2027, 1, 14), date(2027, 1, 21), date(2027, 1, 26)]
    assert [len(held_on(one)) for one in (school.noor, school.marlo, school.posy)] == [12, 12, 12]
    assert told(since=SAID_AT) == {
        "Noor Ashgrove": 1,
        "Marlo Vance": 1,
        "Hedda Lindqvist-Reed": 1,
        "Ilse Quarrow": 1,
    }
    assert list(findings()) == []


def test_each_family_is_asked_once_and_no_other_family_is_named(school):
    """The new time and the old one, until when, and where to answer."""
    exchange = school.asked()
    asked = OutboxMessage.objects.filter(kind="offer")
    assert sorted(asked.values_list("recipient__name", flat=True)) == [
        "Hedda Lindqvist-Reed",
        "Marlo Vance",
        "Noor Ashgrove",
    ]
    noors = asked.get(recipient=school.noor.user)
    assert "Wednesdays 17:00, Dublin, with I. Quarrow, instead of Tuesdays 16:30" in noors.body
    assert f"/exchanges/{school.move_of(school.noor).pk}/" in noors.body
    for other in ("Marlo", "Posy", "Hedda", "Lindqvist"):
        assert other not in noors.body + noors.title
    # Three days would end at 04:00 in New York: it is 08:00 there.
    assert exchange.answer_by - ASKED_AT == timedelta(hours=76)


def test_one_no_leaves_every_place_as_it_is(school):
    """Each family is told once, the one that said yes before too."""
    school.asked()
    school.say_yes(school.noor)
    school.say_no(school.marlo)
    assert open_times(school.term) == BEFORE
    assert Exchange.objects.get().ended_why == "declined"
    assert told(since=SAID_AT) == {
        "Noor Ashgrove": 1,
        "Marlo Vance": 1,
        "Hedda Lindqvist-Reed": 1,
    }
    refused("offer-ended", lambda: school.say_yes(school.posy))


def test_a_yes_can_be_taken_back_while_another_family_has_not_answered(school):
    """A no ends the exchange, whoever says it and whatever they said before."""
    school.asked()
    school.say_yes(school.noor)
    school.say_no(school.noor)
    assert Exchange.objects.get().ended_why == "declined"


def test_a_second_yes_changes_nothing_and_one_to_an_older_page_is_refused(school):
    """Two clicks at once of one family: the second changes nothing, or is stale."""
    school.asked()
    first = school.say_yes(school.noor)
    again = school.say_yes(school.noor)
    assert (again.said_yes_at, again.version) == (first.said_yes_at, first.version)
    refused("stale", lambda: school.say_yes(school.noor, version=1))


def test_the_last_yes_at_the_instant_of_the_answer_by_is_too_late(school):
    """Until then it counts; at that instant the exchange lapses, and everybody is told once."""
    exchange = school.asked()
    school.say_yes(school.noor)
    school.say_yes(school.marlo)
    refused("offer-ended", lambda: school.say_yes(school.posy, now=exchange.answer_by))
    at = exchange.answer_by
    assert write(lambda: lapse_exchanges(now=at), now=at) == 1
    assert write(lambda: lapse_exchanges(now=at), now=at) == 0
    assert open_times(school.term) == BEFORE
    assert set(told(since=at).values()) == {1}


def test_a_place_given_up_meanwhile_ends_the_exchange(school):
    """The other families keep their places and are told; the place is in no order any more."""
    school.asked()
    school.say_yes(school.noor)
    leave(school, school.marlos)
    assert Exchange.objects.get().ended_why == "left"
    assert "Marlo" not in open_times(school.term)
    assert told(since=SAID_AT)["Noor Ashgrove"] == 1
    assert not PlaceWish.objects.filter(wished=school.marlos).exists()
    assert not WishOrder.objects.filter(place=school.marlos).exists()
    refused("offer-ended", lambda: school.say_yes(school.posy))


def test_a_new_time_that_collides_meanwhile_ends_the_exchange_whole(school):
    """Posy has something else on a date of the new time: no place moves, and each family is told
    once, without a word of why.
    """
    school.asked()
    wren = cast.make_instructor("Wren Halloway")
    talk = cast.make_offering("Consultation", "consultation", 25)
    cast.make_booking(cast.make_meeting(talk, wren, cast.at("2027-03-02T16:30Z")), school.posy)
    for one in (school.noor, school.marlo, school.posy):
        school.say_yes(one)
    assert open_times(school.term) == BEFORE
    assert Exchange.objects.get().ended_why == "removed"
    assert [len(held_on(one)) for one in (school.noor, school.marlo)] == [12, 12]
    bodies = OutboxMessage.objects.filter(kind="told", made_at=SAID_AT).values_list("body")
    assert len(bodies) == 3
    assert not any("Consultation" in body for (body,) in bodies)


def test_nothing_is_adopted_when_a_family_has_changed_its_order(school):
    """The conflict names the student to the admin; nobody is asked."""
    school.wish_in_a_circle()
    plan = school.solved()
    school.wish(school.posys)
    refused("plan-outdated", lambda: school.adopt(plan))
    assert not Exchange.objects.exists()


def test_a_place_that_is_being_asked_about_is_in_no_other_plan(school):
    """A second plan finds nothing, and no time is offered to the families meanwhile."""
    school.asked()
    assert school.solved().answer["exchanges"] == []
    assert other_times(school.noors, now=ASKED_AT) == []


def test_two_families_who_prefer_each_other_leave_the_third_alone(school):
    """Top trading cycles: Noor's best is Marlo's and Marlo's is Noor's."""
    school.wish(school.noors, school.marlos)
    school.wish(school.marlos, school.noors, school.posys)
    school.wish(school.posys, school.noors)
    moves = school.solved().answer["exchanges"][0]["moves"]
    assert [(row["place"], row["takes"]) for row in moves] == [
        (school.noors.pk, school.marlos.pk),
        (school.marlos.pk, school.noors.pk),
    ]


def test_who_leaves_as_an_instructor_takes_their_times_out_of_every_order(school):
    """The exchange ends, and each family is told that it has."""
    school.asked()
    write(
        lambda: dismiss_instructor(
            actor=school.dag, instructor=school.ilse, call_off_why="Moving away.", now=SAID_AT
        ),
        now=SAID_AT,
    )
    assert Exchange.objects.get().ended_why == "left"
    assert not PlaceWish.objects.exists()
