"""Answers to an exchange that meet at one instant, on PostgreSQL."""

import pytest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Exchange, OutboxMessage
from bookings.operations.exchanges import lapse_exchanges
from bookings.operations.weekly import leave_weekly_place
from bookings.queries.places_audit import findings
from tests.school.exchanges import ASKED_AT, SAID_AT, ExchangingSchool, open_times
from tests.threads import together

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]
UNTOUCHED = {"Noor": (1, 990), "Marlo": (2, 1020), "Posy": (3, 1050)}
EXCHANGED = {"Noor": (2, 1020), "Marlo": (3, 1050), "Posy": (1, 990)}


@pytest.fixture
def school(monkeypatch):
    monkeypatch.setattr("bookings.clock.now", lambda: ASKED_AT)
    made = ExchangingSchool()
    made.asked()
    return made


def codes(raised: list[BaseException]) -> list[str]:
    """What was refused; anything but a refusal by its own words."""
    return [error.code if isinstance(error, Refused) else repr(error) for error in raised]


def told_twice() -> bool:
    """Whether anybody was told of the end more than once."""
    rows = OutboxMessage.objects.filter(subject_key__startswith="exchange:", state_key="ended")
    readers = list(rows.values_list("recipient", flat=True))
    return len(set(readers)) < len(readers)


@pytest.mark.parametrize("attempt", range(3))
def test_all_families_say_yes_at_once(school: ExchangingSchool, attempt: int) -> None:
    """The last of them finds the other two: the places change hands once."""
    people = (school.noor, school.marlo, school.posy)
    raised = together(*(lambda one=one: school.say_yes(one) for one in people))
    assert codes(raised) == []
    assert open_times(school.term) == EXCHANGED
    assert list(findings()) == []


@pytest.mark.parametrize("attempt", range(3))
def test_the_last_yes_meets_a_no(school: ExchangingSchool, attempt: int) -> None:
    """Whichever comes first holds: all have moved, or nobody, and the other is told so."""
    school.say_yes(school.noor)
    school.say_yes(school.marlo)
    raised = together(lambda: school.say_yes(school.posy), lambda: school.say_no(school.noor))
    assert codes(raised) == ["offer-ended"]
    assert open_times(school.term) in (EXCHANGED, UNTOUCHED)
    assert not told_twice()


@pytest.mark.parametrize("attempt", range(3))
def test_the_last_yes_meets_the_end_of_its_time(school: ExchangingSchool, attempt: int) -> None:
    """A yes just before and the sweep at the answer-by: all have moved, or it has lapsed."""
    answer_by = Exchange.objects.get().answer_by
    school.say_yes(school.noor)
    school.say_yes(school.marlo)
    raised = together(
        lambda: school.say_yes(school.posy),
        lambda: write(lambda: lapse_exchanges(now=answer_by), now=answer_by),
    )
    moved = open_times(school.term) == EXCHANGED
    assert codes(raised) == ([] if moved else ["offer-ended"])
    assert Exchange.objects.get().ended_why == ("placed" if moved else "lapsed")
    assert list(findings()) == []


@pytest.mark.parametrize("attempt", range(3))
def test_the_last_yes_meets_a_family_that_gives_its_place_up(
    school: ExchangingSchool, attempt: int
) -> None:
    """Either all have moved and the old place was given up already, or the exchange has ended."""
    school.say_yes(school.noor)
    school.say_yes(school.marlo)

    def leave() -> None:
        leave_weekly_place(actor=school.dag, place=school.marlos, now=SAID_AT)

    raised = together(lambda: school.say_yes(school.posy), lambda: write(leave, now=SAID_AT))
    moved = Exchange.objects.get().ended_why == "placed"
    assert codes(raised) == (["already-ended"] if moved else ["offer-ended"])
    left = {name: at for name, at in UNTOUCHED.items() if name != "Marlo"}
    assert open_times(school.term) == (EXCHANGED if moved else left)
    assert not told_twice()


@pytest.mark.parametrize("attempt", range(3))
def test_two_families_give_their_places_up_at_once(school: ExchangingSchool, attempt: int) -> None:
    """The exchange ends once, and nobody is told twice."""

    def leave(place) -> None:
        write(lambda: leave_weekly_place(actor=school.dag, place=place, now=SAID_AT), now=SAID_AT)

    raised = together(lambda: leave(school.marlos), lambda: leave(school.posys))
    assert codes(raised) == []
    assert Exchange.objects.get().ended_why == "left"
    assert not told_twice()
