"""Each call lists the statuses that it answers with, and no others: every one that is listed is
provoked here.

That no call answers with a status that it does not list, the client sees to in every test of the
API.
"""

from collections.abc import Callable
from typing import Any

import pytest
from django.core.cache import cache
from django.db import OperationalError
from django.test import Client
from rest_framework.throttling import SimpleRateThrottle
from rest_framework.views import APIView

from bookings.domain.scopes import Scope
from tests.functional.api import refusing
from tests.functional.api.client import V1, Api, Reply, schema, undone
from tests.functional.api.matrix import MATRIX, ROLES
from tests.functional.api.matrix_programs import OPEN
from tests.functional.api.program import Program
from tests.functional.api.world import World

Cell = tuple[str, str]
NOWHERE = "999999999999"


def described(cell: Cell) -> dict[str, Any]:
    """What the schema says of one verb at one address."""
    path = V1 + cell[1].replace("<id:pk>", "{id}")
    found: dict[str, Any] = schema()["paths"][path][cell[0].lower()]
    return found


def listed(cell: Cell) -> set[int]:
    """The statuses that the schema lists."""
    return {int(status) for status in described(cell)["responses"]}


class Asker:
    """Asks one call in the ways that its statuses come from, as whoever gets furthest with it."""

    def __init__(self, world: World, cell: Cell) -> None:
        self.world, self.cell, self.route = world, cell, MATRIX[cell]
        self.has_body = "requestBody" in described(cell)
        cells = dict(zip(ROLES, self.route.cells, strict=True))
        self.role = min(ROLES, key=lambda role: (cells[role] in {403, 404}, cells[role]))

    def ask(self, role: str | None = None, **how: Any) -> Reply:
        path = how.pop("path", None) or self.route.path(self.world)
        who = how.pop("who", None) or Api(self.world.people()[role or self.role])
        if "raw" not in how and "data" not in how:
            how["data"] = self.route.body(self.world)
        return who.ask(self.cell[0], path, how.pop("data", None), **{"match": "*", **how})

    def seen_in_the_matrix(self) -> set[int]:
        """What each role is answered, as test_api_access proves it of every cell."""
        return set(self.route.cells)

    def unreadable(self) -> Reply:
        if self.has_body:
            return self.ask(raw=b"{")
        return self.ask(headers={"Idempotency-Key": "no quotes"})

    def forbidden(self) -> Reply:
        """As `forged`; a reading, by a service token without the scope."""
        if self.cell[0] != "GET":
            return self.forged()
        opened = [scope for scope, cells in OPEN.items() if self.cell in cells]
        scopes = [scope for scope in Scope if scope not in opened]
        return self.ask(who=Program(self.world.school.dag, *scopes))

    def forged(self) -> Reply:
        """A page's session without its token against forgery."""
        browser = Client(enforce_csrf_checks=True)
        browser.force_login(self.world.people()[self.role])
        address = V1 + self.route.path(self.world)
        sent = browser.generic(self.cell[0], address, b"{}", "application/json")
        return Reply(sent.status_code, sent.content, dict(sent.items()))

    def unknown_member(self) -> Reply:
        if self.has_body:
            return self.ask(data={"unknown": 1})
        path = self.route.path(self.world)
        return self.ask(path=f"{path}{'&' if '?' in path else '?'}unknown=1")

    def nowhere(self) -> Reply:
        path = self.cell[1].replace("<id:pk>", NOWHERE)
        return self.ask(path=path)


WAYS: dict[int, Callable[[Asker], Reply]] = {
    304: lambda asker: asker.ask(match=None, headers={"If-None-Match": "*"}),
    400: Asker.unreadable,
    401: lambda asker: asker.ask(who=Api()),
    403: Asker.forbidden,
    404: Asker.nowhere,
    412: lambda asker: asker.ask(match='"another"'),
    413: lambda asker: asker.ask(raw=b" " * 3_200_000),
    415: lambda asker: asker.ask(raw=b"x", media="text/plain"),
    422: Asker.unknown_member,
    428: lambda asker: asker.ask(match=None),
}


@pytest.mark.parametrize("cell", MATRIX, ids=" ".join)
def test_every_status_that_a_call_lists_is_answered(world: World, cell: Cell) -> None:
    """By the matrix, in a way that any call is refused, or in this call's own way."""
    asker = Asker(world, cell)
    left = listed(cell) - {429, 503} - asker.seen_in_the_matrix()
    for status in sorted(left):
        cache.clear()  # throttles have a test of their own
        own = refusing.OWN_WAYS.get((*cell, status))
        if own is not None:
            with undone():
                assert own(world).status == status, status
        else:
            with undone():
                assert WAYS[status](asker).status == status, status


@pytest.mark.parametrize("cell", MATRIX, ids=" ".join)
def test_every_call_may_be_throttled(
    world: World, cell: Cell, monkeypatch: pytest.MonkeyPatch
) -> None:
    """429 with Retry-After, wherever it comes.

    Source: OWASP ASVS 5.0.0, V2.4.1.
    """
    monkeypatch.setattr(SimpleRateThrottle, "allow_request", lambda *_: False)
    monkeypatch.setattr(SimpleRateThrottle, "wait", lambda _: 7)
    assert Asker(world, cell).ask().status == 429


@pytest.mark.parametrize("cell", MATRIX, ids=" ".join)
def test_every_call_may_find_the_database_away(
    world: World, cell: Cell, monkeypatch: pytest.MonkeyPatch
) -> None:
    """503 with Retry-After, wherever it comes."""

    def away(*_: Any) -> None:
        raise OperationalError("away")

    monkeypatch.setattr(APIView, "check_permissions", away)
    assert Asker(world, cell).ask().status == 503
