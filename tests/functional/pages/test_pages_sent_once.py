"""A form that makes something is obeyed once, however often its button is pressed."""

import re
from collections.abc import Mapping
from typing import Any

import pytest
from django.db.models import Model
from django.test import Client

from accounts.models import Welcome
from bookings.models import OutboxMessage, OwedLesson, Plan, ServiceToken, Webhook
from tests.functional.pages.every_page import counts
from tests.functional.pages.school import School, as_user, text_of
from tests.school.owed import OwedSchool

pytestmark = pytest.mark.sql

TILL = {"name": "Till", "address": "https://till.rowanmere.example/", "kinds": ["booking.made"]}
MADE: dict[str, tuple[Mapping[str, Any], type[Model]]] = {
    "/programs/told/new/": (TILL, Webhook),
    "/programs/tokens/new/": (
        {"name": "Desk", "scopes": ["read-calendar"], "days": "90"},
        ServiceToken,
    ),
    "/people/": ({"name": "Ida Quince", "email": "ida@quince.example", "role": "admin"}, Welcome),
    "/plans/group/": (
        {
            "title": "Ornaments",
            "first_on": "2027-03-08",
            "last_on": "2027-03-12",
            "mode": "series",
            "meetings": 1,
            "days_apart": 7,
            "places": 4,
            "seconds": 10,
            "answer_on": "2027-03-03",
            "answer_at": "18:00",
        },
        Plan,
    ),
}


def number_on(client: Client, address: str) -> dict[str, str]:
    """The number of the form that a page shows."""
    (number,) = re.findall(
        r'name="form_number" value="([0-9a-f]{32})"', text_of(client.get(address))
    )
    return {"form_number": number}


@pytest.mark.parametrize("address", MADE)
def test_a_form_that_is_sent_twice_makes_one_thing(school: School, address: str) -> None:
    """The second press says so, tells nobody anything, and comes with a new number: pressed again
    it is meant.
    """
    dag, (typed, made) = as_user(school.dag), MADE[address]
    if address == "/plans/group/":
        own = {"offering": school.circle.offering.pk, "instructors": school.ilse.pk}
        typed = {**typed, **own, "student": school.noor.pk}
    sent = {**typed, **number_on(dag, address)}
    assert dag.post(address, sent).status_code == 302
    before, emails = counts(), OutboxMessage.objects.count()
    again = dag.post(address, sent)
    assert again.status_code == 409
    assert "This form was sent a moment ago" in text_of(again)
    assert (counts(), OutboxMessage.objects.count()) == (before, emails)
    assert made._default_manager.count() == 1
    assert dag.post(address, {**typed, **number_on(dag, address)}).status_code == 302
    assert made._default_manager.count() == 2


def test_what_was_refused_may_be_sent_again(school: School) -> None:
    """The number is used up by what was done, not by a fault."""
    dag, address = as_user(school.dag), "/programs/told/new/"
    number = number_on(dag, address)
    wrong = {**TILL, "address": "https://10.0.0.1/"}
    assert dag.post(address, {**wrong, **number}).status_code == 422
    assert dag.post(address, {**TILL, **number}).status_code == 302


@pytest.mark.django_db
def test_a_lesson_is_carried_in_once() -> None:
    """A second one would be another lesson to teach, or to pay for."""
    school = OwedSchool()
    dag, account = as_user(school.dag), f"/terms/{school.term.pk}/accounts/{school.marlo.pk}/"
    typed = {"offering": school.lesson.pk, "use_by": "2027-04-09", "reason": "From autumn."}
    sent = {**typed, **number_on(dag, account)}
    assert [dag.post(account, sent).status_code for _ in range(2)] == [302, 409]
    assert OwedLesson.objects.count() == 1
