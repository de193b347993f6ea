"""Ids that lead nowhere: in a path, a body or a query string, never there or not one's own, the
answer is the same 404."""

from collections.abc import Iterator
from typing import Any

import pytest

from bookings.api.operation import declared
from bookings.api.urls import version_1
from bookings.domain.policy_rules import RULES
from tests.functional.api.client import Api, Reply
from tests.functional.api.judging import NOBODY, Caller, kind_of, members, parameters, whole
from tests.functional.api.matrix import MATRIX
from tests.functional.api.paged_lists import LISTS
from tests.functional.api.world import World

NUMBERS = {
    "item", "level", "unit", "places", "listener_places", "lessons_promised", "limit", "page_size",
    "follow_up_weeks", "practised_minutes", "lowest_level", "highest_level", "count", "every_weeks",
    "minimum",
    "days",
    "minutes", "step_minutes", "own_changeover_minutes",
    *(rule.name for rule in RULES),
}  # fmt: skip
VIEWS = {str(route.pattern): route.callback.cls for route in version_1}
FILTERS = {
    (cell[1], listing.wire.get(name, name))
    for cell in LISTS
    if (listing := declared(VIEWS[cell[1]], "GET").listing) is not None
    for name in listing.narrows
} | {("invitations/", "student")}
"""What narrows a list down finds nothing where nothing is: an empty page, whoever asks."""
ONLY_WITH_A_RELEASE = ("bookings/<id:pk>/wrap-up/", "over")
"""Looked at once the lesson has begun and a note is released: test_api_wrap_up has it."""


def told(reply: Reply) -> dict[str, Any]:
    """What a problem says, but where it was asked."""
    return {name: value for name, value in reply.json.items() if name != "instance"}


PATHS = sorted(cell for cell in MATRIX if "<id:pk>" in cell[1])


@pytest.mark.parametrize("cell", PATHS, ids=" ".join)
def test_an_unknown_id_in_a_path(world: World, cell: tuple[str, str]) -> None:
    """One sentence, one shape, for every address that has a place for an id."""
    caller = Caller(world, cell)
    caller.path = cell[1].replace("<id:pk>", str(NOBODY))
    reply = caller.send(caller.body or None)
    assert (reply.status, reply.code) == (404, "not-found"), reply.body
    assert told(reply) == told(Api(world.school.dag).get(f"bookings/{NOBODY}/"))


def named() -> Iterator[tuple[tuple[str, str], str, bool]]:
    """(call, member, whether in the body) of every id that a body or a query string may name."""
    for cell in sorted(MATRIX):
        for found, in_body in ((members(*cell), True), (parameters(*cell), False)):
            for name, part in found.items():
                is_id = kind_of(whole(part)) == "integer" and name not in NUMBERS
                is_asked = (cell[1], name) != ONLY_WITH_A_RELEASE
                narrows = cell[0] != "DELETE" and (cell[1], name) in FILTERS
                if is_id and is_asked and (in_body or not narrows):
                    yield cell, name, in_body


NAMED = list(named())


@pytest.mark.parametrize(
    ("cell", "name", "in_body"),
    NAMED,
    ids=lambda part: " ".join(part) if isinstance(part, tuple) else None,
)
def test_an_unknown_id_in_a_body_or_a_query(
    world: World, cell: tuple[str, str], name: str, in_body: bool
) -> None:
    """404 as in a path, with a pointer to what named it."""
    # Only an admin may name other people there.
    asks_as_admin = cell[1] == "feeds/" or (cell[1], name) == ("proposals/", "instructor")
    caller = Caller(world, cell, "admin" if asks_as_admin else "")
    if in_body:
        reply = caller.send(naming(caller, name))
    else:
        address, _, query = caller.path.partition("?")
        if cell[1] == "weekly-places/options/":
            term, offering = world.weekly.term_id, world.weekly.offering_id
            query = "" if name == "moving" else f"term={term}&offering={offering}"
        kept = [pair for pair in query.split("&") if not pair.startswith(f"{name}=")]
        caller.path = address
        reply = caller.send(
            caller.body or None, query="&".join([*filter(None, kept), f"{name}={NOBODY}"])
        )
    assert (reply.status, reply.code) == (404, "not-found"), (cell, name, reply.body)
    assert [error["pointer"] for error in reply.json["errors"]] == [f"#/{name}"], reply.body


def naming(caller: Caller, name: str) -> dict[str, Any]:
    """A body that would be right, were anything there."""
    if caller.pattern.endswith("roster/") and caller.verb == "DELETE":
        return {"reason": "Ill", name: NOBODY}
    if caller.pattern == "invitations/":
        return {**caller.body, "role": "student", name: NOBODY}
    is_group = name == "meeting" and caller.pattern.startswith("bookings/")
    if name == "move_request":
        return {"starts": caller.body["starts"], name: NOBODY}
    return {**({} if is_group else caller.body), name: NOBODY}


def test_the_walk_finds_ids_of_every_kind() -> None:
    """Students, instructors, offerings, meetings, terms and bookings, in bodies and in query
    strings."""
    kinds = {"student", "instructor", "offering", "meeting", "term", "booking", "moving"}
    assert kinds <= {name for _, name, _ in NAMED}
    assert len(NAMED) > 25
    assert len(PATHS) > 30


def test_what_one_may_not_see_is_as_if_it_were_not_there(world: World) -> None:
    """Another family's child, meeting, booking and weekly place: the bytes of an id that never
    was."""
    marlo, school = Api(world.school.marlo.user), world.school
    for path, body, name, theirs in (
        ("bookings/", school.slot(), "student", school.posy.pk),
        ("bookings/", {}, "meeting", world.booking.meeting_id),
        (f"meetings/{world.meeting.pk}/waiting-list/", {}, "student", school.noor.pk),
        ("weekly-places/", MATRIX["POST", "weekly-places/"].body(world), "student", school.noor.pk),
        ("busy-calendars/", {"name": "Choir", "calendar": "x"}, "student", school.posy.pk),
        ("extra-hours/", MATRIX["POST", "extra-hours/"].body(world), "instructor", school.ilse.pk),
    ):
        api = Api(school.wren.user) if name == "instructor" else marlo
        hidden, absent = (api.post(path, {**body, name: pk}) for pk in (theirs, NOBODY))
        assert hidden.status == 404, hidden.body
        assert hidden.body == absent.body
    for query in ("student={}", "moving={}"):
        asked = f"slots/?offering={school.consultation.pk}&{query}"
        theirs = world.booking.pk if "moving" in query else school.noor.pk
        hidden, absent = (marlo.get(asked.format(pk)) for pk in (theirs, NOBODY))
        assert (hidden.status, hidden.body) == (404, absent.body)


OMITTED = [
    ("GET", "slots/?offering={offering}", "student"),
    ("GET", "weekly-places/options/?term={term}&offering={offering}", "student"),
    ("POST", "bookings/", "student"),
    ("POST", "meetings/{meeting}/waiting-list/", "student"),
    ("DELETE", "meetings/{meeting}/waiting-list/", "student"),
    ("POST", "weekly-places/", "student"),
    ("POST", "meetings/", "instructor"),
    ("GET", "teaching-hours/", "instructor"),
    ("PUT", "teaching-hours/", "instructor"),
    ("GET", "teaching-hours/availability.ics", "instructor"),
    ("POST", "teaching-hours/proposal/", "instructor"),
    ("GET", "extra-hours/", "instructor"),
    ("POST", "extra-hours/", "instructor"),
    ("GET", "days-away/", "instructor"),
    ("POST", "days-away/", "instructor"),
]


@pytest.mark.parametrize(("verb", "path", "name"), OMITTED)
def test_an_admin_who_omits_whom_it_is_about(world: World, verb: str, path: str, name: str) -> None:
    """An admin acts for anybody, so nobody is understood: 422 at what is to be named, not 403."""
    school = world.school
    plain = path.partition("?")[0].replace("{meeting}", "<id:pk>")
    body = MATRIX[verb, plain].body(world) if verb != "GET" else None
    address = path.format(
        offering=school.consultation.pk, term=world.weekly.term_id, meeting=world.meeting.pk
    )
    sent = {key: value for key, value in (body or {}).items() if key != name} or None
    reply = Api(school.dag).ask(verb, address, sent, match="*")
    assert (reply.status, reply.code) == (422, "invalid"), reply.body
    assert [error["pointer"] for error in reply.json["errors"]] == [f"#/{name}"]
