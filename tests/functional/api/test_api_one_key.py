"""One Idempotency-Key sent many times at the same instant."""

import threading
from collections import Counter

import pytest
from django.db import connection

from bookings.models import Booking, KeptAnswer
from tests.functional.api.client import Api, Reply, schema
from tests.functional.api.school import School, make_school

CLIENTS = 12


def volley(school: School, bodies: list[dict[str, object]]) -> list[Reply]:
    """All bodies at once under one key of Noor's; each thread has a connection of its own."""
    schema()  # built once before the threads ask for it
    gate, replies = threading.Barrier(len(bodies)), {}

    def fire(place: int) -> None:
        api = Api(school.noor.user)
        gate.wait()
        try:
            replies[place] = api.post("bookings/", bodies[place], key="one")
        finally:
            connection.close()

    threads = [threading.Thread(target=fire, args=(place,)) for place in range(len(bodies))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return [replies[place] for place in range(len(bodies))]


@pytest.mark.django_db(transaction=True)
def test_one_key_many_times_has_one_effect_and_one_answer() -> None:
    """The later requests wait for the first: one booking, one row, the same bytes for all."""
    school = make_school()
    replies = volley(school, [school.slot()] * CLIENTS)
    assert {reply.status for reply in replies} == {201}
    assert len({reply.body for reply in replies}) == 1
    assert (Booking.objects.count(), KeptAnswer.objects.count()) == (1, 1)


@pytest.mark.django_db(transaction=True)
def test_one_key_many_times_has_one_refusal() -> None:
    """A refusal is answered with the same bytes to all, whichever of them found its near times."""
    school = make_school()
    replies = volley(school, [school.slot(starts_at="2027-03-05T15:10:00Z")] * CLIENTS)
    assert {reply.code for reply in replies} == {"off-grid"}
    assert len({reply.body for reply in replies}) == 1
    assert (Booking.objects.count(), KeptAnswer.objects.count()) == (0, 1)


@pytest.mark.django_db(transaction=True)
def test_one_key_for_two_bodies_lets_one_through() -> None:
    """Two different requests race under one key: all of one kind are answered 201, all of the other
    are refused.
    """
    school = make_school()
    other = school.slot(starts_at="2027-03-05T16:00:00Z")
    replies = volley(school, [school.slot(), other] * (CLIENTS // 2))
    assert Counter(reply.code for reply in replies) == {
        "": CLIENTS // 2,
        "key-reused": CLIENTS // 2,
    }
    assert Booking.objects.count() == 1
