"""A small part of the faults, for CI; `python -m tests.races.faults` plays the rest."""

import pytest

from tests.races import faults
from tests.races.faults import mails, programs
from tests.services import on_postgres


@pytest.mark.heavy
@pytest.mark.skipif(on_postgres(), reason="runs in the other pass")
def test_kills_on_sqlite_lose_nothing() -> None:
    """A web worker, the master alone and the whole web process are killed under load, and every
    acknowledged write is there.
    """
    figures, (record,) = faults.run("quick", counts={"K1": 0, "K2": 3, "D1": 0, "M1": 0})
    assert record["violations"] == [], record
    assert (figures.pop("kills"), record["acknowledged"] > 10) == (3, True)
    assert set(figures.values()) == {0}


@pytest.mark.heavy
@pytest.mark.postgres
@pytest.mark.redis
@pytest.mark.skipif(
    programs.missing_services() != "", reason=programs.missing_services() or "services are there"
)
def test_kills_on_postgresql_lose_nothing() -> None:
    """The same with its own cluster, broker and worker, whichever of them the seed hits."""
    figures, (record,) = faults.run("quick", counts={"K1": 3, "K2": 0, "D1": 0, "M1": 0})
    assert record["violations"] == [], record
    assert figures["kills"] == 3


@pytest.mark.heavy
@pytest.mark.django_db(transaction=True)
def test_a_failing_mail_server_loses_and_doubles_nothing() -> None:
    """Fifteen faults of a mail server, then one address that never works: each message arrives,
    once for each state, in order.
    """
    record = mails.play(seed=15, faults=15)
    assert record["violations"] == [], record
    assert record["mail_faults"] >= 15
    assert record["mails"] > 12
