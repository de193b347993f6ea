"""The checker of races, on queues: what is legal passes, each fault is caught."""

from dataclasses import replace
from datetime import timedelta

from tests.races.events import Event
from tests.races.history import check
from tests.unit.plain_desk import PlainDesk
from tests.unit.race_histories import kinds, together, without_booking


def queue_of(waiting: int, places: int = 2) -> tuple[PlainDesk, int]:
    desk = PlainDesk()
    meeting = desk.group(places)
    for student in range(1, places + 1):
        desk.ask("book-place", student=student, meeting=meeting)
    for student in range(11, 11 + waiting):
        desk.ask("wait", student=student, meeting=meeting)
    return desk, meeting


def test_a_storm_of_cancellations_offers_in_order() -> None:
    """Fifty places given back at once while fifty wait: each is offered to the next in line."""
    desk, _ = queue_of(60, places=50)
    before = desk.state()
    events = together([desk.ask("cancel", booking=pk) for pk in range(1, 51)])
    assert check(events, before, desk.state()) == []


def test_an_offer_out_of_order_is_caught() -> None:
    """The second in line has the offer, the first waits on."""
    desk, _ = queue_of(2)
    before = desk.state()
    event = desk.ask("cancel", booking=1)
    offer = next(row for row in desk.bookings.values() if row.standing == "OFFERED")
    desk.bookings[offer.id] = replace(offer, student=12, waiting_place=2)
    desk.waiting[1], desk.waiting[2] = (
        replace(desk.waiting[1], offer=None),
        replace(desk.waiting[2], offer=offer.id),
    )
    assert kinds([event], before, desk.state()) == {"queue-order", "not-linearisable"}


def test_a_freed_place_that_nobody_is_offered_is_caught() -> None:
    """Given back, and the queue waits on."""
    desk, _ = queue_of(1)
    before = desk.state()
    event = desk.ask("cancel", booking=1)
    after = without_booking(desk.state(), 3)
    after = replace(after, waiting={1: replace(after.waiting[1], offer=None)})
    assert kinds([event], before, after) == {"queue-order", "not-linearisable"}


def test_a_newcomer_who_jumps_the_queue_is_caught() -> None:
    """They book the freed place that belongs to the first in line."""
    desk, meeting = queue_of(1)
    before = desk.state()
    event = desk.ask("cancel", booking=1)
    offer = next(row for row in desk.bookings.values() if row.standing == "OFFERED")
    desk.bookings[offer.id] = replace(offer, student=40, standing="HELD", waiting_place=None)
    desk.waiting[1] = replace(desk.waiting[1], offer=None)
    took = Event(
        40,
        "book-place",
        {"student": 40, "meeting": meeting},
        10.0,
        11.0,
        201,
        {"id": offer.id, "meeting": meeting},
    )
    assert kinds([event, took], before, desk.state()) == {"queue-order", "not-linearisable"}


def test_joining_in_one_order_and_standing_in_another_is_caught() -> None:
    """The first had their answer before the second asked."""
    desk, meeting = queue_of(0)
    before = desk.state()
    events = [desk.ask("wait", student=student, meeting=meeting) for student in (11, 12)]
    assert check(events, before, desk.state()) == []
    desk.waiting[2] = replace(
        desk.waiting[2], joined_at=desk.waiting[1].joined_at - timedelta(seconds=5)
    )
    assert kinds(events, before, desk.state()) == {"queue-order"}


def test_a_yes_after_its_time_is_caught() -> None:
    """An offer due at 09:00 is accepted by a request sent a minute later; "offer-ended" is the
    answer then, and only then.
    """
    desk, _ = queue_of(1)
    desk.ask("cancel", booking=1)
    offer = next(row for row in desk.bookings.values() if row.standing == "OFFERED")
    desk.bookings[offer.id] = replace(offer, answer_by=desk.state().read_at)
    before = desk.state()
    event = replace(
        desk.ask("accept", booking=offer.id), called=desk.clock + 60, returned=desk.clock + 61
    )
    assert "queue-order" in kinds([event], before, desk.state())
    early = replace(event, called=0.1, returned=0.2, status=409, body={"code": "offer-ended"})
    assert kinds([early], before, before) == {"false-refusal"}
    assert check([replace(early, called=70.0, returned=80.0)], before, before) == []


def test_a_lapse_needs_no_request() -> None:
    """An offer that ran out goes to the next in line by itself."""
    desk, _ = queue_of(2)
    desk.ask("cancel", booking=1)
    before = desk.state()
    desk.ask("decline", booking=3)
    desk.bookings[3] = replace(desk.bookings[3], ended_why="lapsed")
    accepted = desk.ask("accept", booking=4)
    assert check([accepted], before, desk.state()) == []


def test_places_are_never_lowered_below_those_taken() -> None:
    """While two book, the places go from three to one: refused, or the bookings are."""
    desk = PlainDesk()
    meeting = desk.group(3)
    before = desk.state()
    events = [
        desk.ask("book-place", student=1, meeting=meeting),
        desk.ask("places", meeting=meeting, places=1),
        desk.ask("book-place", student=2, meeting=meeting),
        desk.ask("places", meeting=meeting, places=0),
    ]
    assert [event.status for event in events] == [201, 200, 409, 409]
    assert check(together(events), before, desk.state()) == []
    assert kinds([*events[:3], replace(events[3], status=200)], before, desk.state()) == {
        "not-linearisable"
    }


def test_a_free_place_is_kept_from_others_while_somebody_is_passed_over() -> None:
    """Whoever waits without a consent on file is offered nothing and keeps their rank."""
    desk, meeting = queue_of(1)
    desk.ask("cancel", booking=1)
    passed_over = replace(desk.waiting[1], offer=None)
    free = without_booking(desk.state(), 3)
    before = replace(free, waiting={1: passed_over}, ineligible=frozenset({passed_over.student}))
    sent = {"student": 40, "meeting": meeting}
    refused = Event(40, "book-place", sent, 10.0, 11.0, 409, {"code": "no-place"})
    assert check([refused], before, before) == []
    desk.bookings[3] = replace(desk.bookings[3], student=40, standing="HELD", waiting_place=None)
    after = replace(desk.state(), waiting={1: passed_over}, ineligible=before.ineligible)
    took = replace(refused, status=201, body={"id": 3, "meeting": meeting})
    assert kinds([took], before, after) == {"not-linearisable"}
