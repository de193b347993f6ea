"""Nobody's change is lost: what changes or goes bears a strong ETag, and who changes it says which
one they read.

RFC 9110 sections 8.8.3 (ETag) and 13.1.1 (If-Match: a tag that does not match is 412), RFC 6585
section 3 (428).
"""

import pytest

from bookings.api.conditions import HONOURED, NEEDED
from bookings.api.urls import version_1
from tests.functional.api.client import Api, schema, snapshot, undone
from tests.functional.api.matrix import MATRIX, ROLES
from tests.functional.api.school import School
from tests.functional.api.world import World, make_world

ADDS = "it adds something, and changes nothing that was read"

ASKS_NOTHING = {
    ("POST", "tokens/"): ADDS,
    ("DELETE", "tokens/current/"): "the token is in the request itself",
    ("POST", "bookings/"): ADDS,
    ("POST", "bookings/<id:pk>/move-requests/"): ADDS,
    ("POST", "plans/"): ADDS,
    ("POST", "owed-lessons/"): ADDS,
    ("POST", "cover-questions/<id:pk>/answer/"): "it is answered once, by the person asked",
    ("POST", "proposals/"): ADDS,
    ("POST", "meetings/"): ADDS,
    ("POST", "meetings/<id:pk>/waiting-list/"): ADDS,
    ("POST", "meetings/<id:pk>/waiting-list/add/"): ADDS,
    ("POST", "teaching-hours/proposal/"): "it writes nothing",
    ("POST", "extra-hours/"): ADDS,
    ("POST", "cleared-hours/"): "it names every meeting, and sends the digest of what was read",
    (
        "POST",
        "days-away/",
    ): "it adds them, and what stands in the way is listed before anything is called off",
    (
        "POST",
        "instructors/<id:pk>/dismiss/",
    ): "nothing shows an instructor; what it would call off is listed first",
    ("POST", "invitations/"): ADDS,
    ("DELETE", "invitations/<id:pk>/"): "it never changes, and goes once",
    (
        "POST",
        "students/<id:pk>/leave/",
    ): "nothing shows a student by itself; what would end is listed first",
    ("POST", "busy-calendars/"): ADDS,
    ("POST", "load-allowances/"): ADDS,
    ("POST", "statements/"): ADDS,
    ("POST", "terms/"): ADDS,
    ("POST", "offerings/"): ADDS,
    ("POST", "students/"): ADDS,
    ("POST", "students/<id:pk>/return/"): "they return once",
    ("POST", "instructors/<id:pk>/teach-again/"): "they come back once",
    ("POST", "meetings/<id:pk>/wrap-up/"): "it names the drafts by when they were written",
    ("POST", "meetings/<id:pk>/wrap-up/release/"): "it names the drafts by when they were written",
    ("POST", "weekly-places/"): ADDS,
    ("POST", "assessments/"): ADDS,
    ("POST", "students/<id:pk>/assessments/latest/"): "it reads, and logs that it did",
    ("POST", "students/<id:pk>/practice/tick/"): "it names the plan, the item and the day",
    ("POST", "students/<id:pk>/practice/untick/"): "it names the plan, the item and the day",
    ("POST", "students/<id:pk>/export/"): "it reads, and logs that it did",
    ("POST", "students/<id:pk>/privacy/"): ADDS,
    ("POST", "students/<id:pk>/privacy/approve/"): "a request is approved once",
    ("POST", "students/<id:pk>/privacy/take-back/"): "a request ends once",
    ("POST", "students/<id:pk>/assessments/"): "it reads, and logs that it did",
    ("POST", "bookings/<id:pk>/wrap-up/"): "it names the draft by when it was written",
    ("POST", "feeds/"): ADDS,
    ("POST", "service-tokens/"): ADDS,
    ("DELETE", "email-troubles/<id:pk>/"): "a mark goes once, and says nothing that changes",
    ("DELETE", "service-tokens/<id:pk>/"): "it never changes, and ends once",
    ("POST", "webhooks/"): ADDS,
    ("POST", "webhooks/<id:pk>/test/"): "it sends one more test, and changes nothing",
}

IF_MATCH = {
    (verb, str(route.pattern)): how
    for route in version_1
    for verb, how in route.callback.cls.if_match.items()
}

STALE = '"nothing-0-0"'


@pytest.fixture
def world(school: School) -> World:
    return make_world(school)


def test_every_write_says_what_it_makes_of_if_match() -> None:
    """A write needs it, honours it, or stands above with why there is nothing to match."""
    assert set(IF_MATCH) | set(ASKS_NOTHING) == {cell for cell in MATRIX if cell[0] != "GET"}
    assert not set(IF_MATCH) & set(ASKS_NOTHING)


def test_the_schema_says_which_writes_need_it() -> None:
    """Required where it is needed, optional where it is honoured, absent elsewhere."""
    for verb, path in set(IF_MATCH) | set(ASKS_NOTHING):
        described = schema()["paths"]["/api/v1/" + path.replace("<id:pk>", "{id}")][
            verb.lower()
        ].get("parameters", [])
        asked = [
            parameter.get("required", False)
            for parameter in described
            if parameter["name"] == "If-Match"
        ]
        assert asked == {NEEDED: [True], HONOURED: [False], None: []}[IF_MATCH.get((verb, path))], (
            verb,
            path,
        )


@pytest.mark.parametrize("cell", sorted(IF_MATCH), ids=" ".join)
def test_a_write_without_a_version_or_with_an_old_one_changes_nothing(
    world: World, cell: tuple[str, str]
) -> None:
    """428 where it is needed and absent; 412 for a tag that is not, or no longer, the thing's, weak
    ones included.
    """
    route = MATRIX[cell]
    role = next(
        role for role, status in zip(ROLES, route.cells, strict=True) if status not in (403, 404)
    )
    api, path, body = Api(world.people()[role]), route.path(world), route.body(world)
    before = snapshot()
    if IF_MATCH[cell] == NEEDED:
        assert (api.ask(cell[0], path, body).status, api.ask(cell[0], path, body).code) == (
            428,
            "version-needed",
        )
    else:
        with undone():
            assert api.ask(cell[0], path, body).status < 300
    for match in (STALE, f"W/{STALE}", "rubbish"):
        assert (
            api.ask(cell[0], path, body, match=match).status,
            api.ask(cell[0], path, body, match=match).code,
        ) == (412, "stale")
    assert snapshot() == before


def test_what_is_read_gives_the_tag_that_its_write_takes(world: World) -> None:
    """Each GET's ETag, sent back at once, lets the write through."""
    noor, ilse, dag = (
        Api(world.school.noor.user),
        Api(world.school.ilse.user),
        Api(world.school.dag),
    )
    roster, learners = (
        f"meetings/{world.meeting.pk}/roster/",
        f"busy-calendars/{world.learners.pk}/",
    )
    marlo, why = {"student": world.school.marlo.pk}, {"reason": "By telephone"}
    assert noor.patch("me/", {"name": "Noor A."}, match=noor.etag("me/")).status == 200
    assert noor.post(learners + "refresh/", match=noor.etag(learners)).status == 200
    assert noor.delete(learners, match=noor.etag(learners)).status == 204
    assert dag.post(roster, marlo | why, match=dag.etag(roster)).status == 201
    assert dag.delete(roster, marlo | why, match=dag.etag(roster)).status == 204
    waiting = f"meetings/{world.meeting.pk}/waiting-list/"
    assert (
        dag.delete(
            f"{waiting}?student={world.school.noor.pk}&as=listener", match=dag.etag(waiting)
        ).status
        == 204
    )
    for path in (f"extra-hours/{world.extra.pk}/", f"days-away/{world.away.pk}/"):
        assert ilse.delete(path, match=ilse.etag(path)).status == 204


def test_what_is_made_comes_with_its_tag(school: School) -> None:
    """A creation answers with the version that GET shows, so that the next write needs no reading
    first."""
    ilse, noor = Api(school.ilse.user), Api(school.noor.user)
    days = {"first_on": "2027-03-20", "last_on": "2027-03-21"}
    for api, path, body in (
        (ilse, "extra-hours/", {"on": "2027-03-20", "opens": "06:00", "closes": "07:00"}),
        (ilse, "days-away/", days),
        (noor, "feeds/", {"name": "Phone"}),
    ):
        made = api.post(path, body)
        assert made.etag == api.get(made.headers["Location"]).version, path
