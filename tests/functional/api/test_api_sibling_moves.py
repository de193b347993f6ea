"""TRADE.md 8, scenario 24, over the API: two lessons next to each other move in one request."""

from datetime import timedelta
from typing import Any

import pytest

from bookings.domain.timeline import rfc3339
from bookings.models import OutboxMessage
from tests import cast
from tests.functional.api.client import Api, Reply
from tests.functional.api.school import FOR_POSY, School

HALF_AN_HOUR = timedelta(minutes=30)
LATER = FOR_POSY + timedelta(days=1)


@pytest.fixture
def pair(school: School) -> list[dict[str, Any]]:
    """Posy's lesson, and Kit's right after it; Hedda books for both."""
    kit = cast.make_minor("Kit Lindqvist-Reed", guardian=school.hedda)
    booked = [
        school.booked(school.hedda, student=child.pk, starts_at=rfc3339(starts_at))
        for child, starts_at in ((school.posy, FOR_POSY), (kit, FOR_POSY + HALF_AN_HOUR))
    ]
    OutboxMessage.objects.all().delete()
    return booked


def move(api: Api, pair: list[dict[str, Any]], **more: Any) -> Reply:
    body = {"starts_at": rfc3339(LATER), "with_sibling": pair[1]["id"], **more}
    return api.post(f"bookings/{pair[0]['id']}/move/", body, match="*")


def starts_of(api: Api, pair: list[dict[str, Any]]) -> list[str]:
    return [api.get(f"bookings/{row['id']}/").json["starts_at"] for row in pair]


def test_one_request_moves_both(school: School, pair: list[dict[str, Any]]) -> None:
    """A day later, next to each other as before; one email tells the family."""
    hedda = Api(school.hedda)
    reply = move(hedda, pair)
    assert (reply.status, reply.json["id"]) == (200, pair[0]["id"])
    assert starts_of(hedda, pair) == [rfc3339(LATER), rfc3339(LATER + HALF_AN_HOUR)]
    assert OutboxMessage.objects.filter(recipient=school.hedda, kind="told").count() == 1


def test_neither_moves_where_the_sibling_s_new_time_is_taken(
    school: School, pair: list[dict[str, Any]]
) -> None:
    """The refusal names the child, and comes with starts nearby."""
    hedda = Api(school.hedda)
    school.booked(starts_at=rfc3339(LATER + HALF_AN_HOUR))
    reply = move(hedda, pair)
    assert (reply.status, reply.code) == (409, "taken")
    assert reply.json["detail"].startswith("Kit’s lesson cannot move, so neither has moved.")
    assert reply.json["near"]
    assert starts_of(hedda, pair) == [rfc3339(FOR_POSY), rfc3339(FOR_POSY + HALF_AN_HOUR)]


def test_another_family_s_lesson_does_not_move_with_it(
    school: School, pair: list[dict[str, Any]]
) -> None:
    """Not there for a guardian; for an admin, who sees it, no pair."""
    theirs = school.booked(starts_at=rfc3339(FOR_POSY + 2 * HALF_AN_HOUR))
    hidden = move(Api(school.hedda), [pair[1], theirs])
    assert (hidden.status, hidden.json["errors"][0]["pointer"]) == (404, "#/with_sibling")
    reply = move(Api(school.dag), [pair[1], theirs])
    assert (reply.status, reply.code) == (409, "conflict")
