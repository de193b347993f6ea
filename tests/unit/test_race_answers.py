"""The checker of races, on faults of a server and answers that never came."""

from dataclasses import replace

import pytest

from tests.races.events import Event
from tests.races.history import busy, check, summary
from tests.races.violations import FIGURES
from tests.unit.plain_desk import PlainDesk
from tests.unit.race_histories import kinds, slot


@pytest.mark.parametrize(
    ("status", "body", "kind"),
    [
        (500, {}, "server-error"),
        (503, {}, "server-error"),
        (500, {"detail": "database is locked"}, "locked"),
        (500, {"detail": "deadlock detected"}, "deadlock"),
    ],
)
def test_faults_of_the_server_are_counted(status: int, body: dict[str, str], kind: str) -> None:
    """5xx is a fault; its text says of which kind."""
    event = Event(1, "book-slot", slot(1), 0.0, 1.0, status, body)
    assert kinds([event], PlainDesk().state(), PlainDesk().state()) == {kind}


def test_busy_is_allowed_and_counted() -> None:
    """503 with a time to come again has changed nothing."""
    event = Event(1, "book-slot", slot(1), 0.0, 1.0, 503, {"code": "busy", "retry_after": 2})
    assert check([event], PlainDesk().state(), PlainDesk().state()) == []
    assert busy([event]) == 1


def test_an_answer_that_never_came_may_or_may_not_have_happened() -> None:
    """The row may be there or not, but a row that no request can have made is a fault."""
    desk = PlainDesk()
    before = desk.state()
    event = replace(desk.ask("book-slot", **slot(1)), returned=None, status=None, body={})
    assert check([event], before, desk.state()) == []
    assert check([event], before, before) == []
    assert (
        kinds([], before, desk.state()) == set()
    )  # nothing was asked of that time, so nothing is compared
    other = replace(event, arguments=slot(2))
    assert kinds([other], before, desk.state()) == {"not-linearisable"}
    refused = Event(3, "book-slot", slot(3), 50.0, 51.0, 409, {"code": "taken"})
    assert check([event, refused], before, desk.state()) == []
    assert kinds([event, refused], before, before) == {"false-refusal"}


def test_every_figure_is_counted() -> None:
    """The summary names each figure, also where it is nought."""
    assert summary([]) == dict.fromkeys(FIGURES.values(), 0)
    event = Event(1, "book-slot", slot(1), 0.0, 1.0, 409, {"code": "taken"})
    counted = summary(check([event, event], PlainDesk().state(), PlainDesk().state()))
    assert counted["false_refusals"] == 2
    assert sum(counted.values()) == 2
