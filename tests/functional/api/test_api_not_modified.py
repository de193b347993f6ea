"""Reading again what has not changed: 304, by RFC 9110 section 13.1.2, and never for what another
reader or another day would read."""

import pytest

from bookings.domain.zones import zone
from bookings.models import Feed
from tests.functional.api.client import V1, Api, Reply, schema
from tests.functional.api.judging import Caller
from tests.functional.api.matrix import MATRIX
from tests.functional.api.world import World

READS = sorted(cell for cell in MATRIX if cell[0] == "GET")


def known(caller: Caller, tags: str, verb: str = "GET") -> Reply:
    caller.verb = verb
    return caller.send(headers={"If-None-Match": tags})


@pytest.mark.parametrize("cell", READS, ids=" ".join)
def test_what_has_not_changed_is_not_sent_again(world: World, cell: tuple[str, str]) -> None:
    """Comparison is weak, a list is looked through, and * stands for whatever is there; no other
    tag stops the answer."""
    caller = Caller(world, cell)
    read = caller.send()
    described = schema()["paths"][V1 + cell[1].replace("<id:pk>", "{id}")]["get"]
    names = {one["name"] for one in described.get("parameters", [])}
    tag = read.headers.get("ETag")
    assert ("304" in described["responses"]) == ("If-None-Match" in names) == (tag is not None)
    if tag is None:
        return
    for tags in (tag, f"W/{tag}", f'"other", W/"x",{tag}', "*"):
        again = known(caller, tags)
        assert (again.status, again.body, again.etag) == (304, b"", tag), tags
        assert again.headers["Cache-Control"] == read.headers["Cache-Control"]
    assert known(caller, tag, "HEAD").status == 304
    for tags in ('"other"', tag.strip('"'), tag[:-2] + '"', "W/*", ""):
        assert known(caller, tags).body == read.body, tags


def test_the_walk_finds_what_bears_a_tag(world: World) -> None:
    """Were no GET to bear a tag, the test above would pass for nothing."""
    tagged = [cell for cell in READS if "ETag" in Caller(world, cell).send().headers]
    assert len(tagged) >= 14


def test_what_reads_otherwise_is_sent_again(world: World) -> None:
    """A booking tells its meeting's title and its reader's clock: when they change, what was read
    is old, whatever its version."""
    noor, path = Api(world.school.noor.user), f"bookings/{world.place.pk}/"
    read = noor.etag(path)
    meeting = f"meetings/{world.meeting.pk}/"
    Api(world.school.ilse.user).patch(meeting, {"title": "Airs"}, match="*")
    renamed = noor.get(path, headers={"If-None-Match": read})
    assert (renamed.status, renamed.json["title"]) == (200, "Airs")
    noor.user.time_zone = zone("Asia/Kathmandu")  # type: ignore[union-attr]
    noor.user.save()  # type: ignore[union-attr]
    moved = noor.get(path, headers={"If-None-Match": renamed.etag})
    assert (moved.status, moved.json["time_zone"]) == (200, "Asia/Kathmandu")
    assert noor.get(path, headers={"If-None-Match": moved.etag}).status == 304


def test_an_old_reading_of_the_same_version_may_still_be_changed(world: World) -> None:
    """A telephone reads a feed: what GET tells is new, and If-Match with the tag from before still
    fits, for its owner changed nothing."""
    noor, path = Api(world.school.noor.user), f"feeds/{world.feed.pk}/"
    read = noor.etag(path)
    Feed.objects.filter(pk=world.feed.pk).update(fetched_at=world.feed.opened_at)
    assert noor.get(path, headers={"If-None-Match": read}).status == 200
    assert noor.delete(path, match=read).status == 204
